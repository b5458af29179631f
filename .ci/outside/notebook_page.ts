/**
 * The Notebook page in a real browser: opens notebooks, runs all cells, looks
 * at the plots, answers a question, interrupts, and takes screenshots. Nothing
 * outside this machine may be asked for.
 *
 * Run: .ci/outside/with_kernel deno run -A .ci/outside/notebook_page.ts [notebook…]
 *
 * @module
 */
import { openBrowser, type Page } from "./browser.ts";
import { startServer } from "./notebook_server.ts";
import { check, demand, fail, finish } from "./tally.ts";

const project = new URL("../../", import.meta.url).pathname;
const screenshots = `${project}out/screenshots`;
/** Address of the Notebook server, once it runs. */
let server = "";

/** A notebook of our own that uses what a page can do. */
function pageNotebook(): string {
  const sources = [
    `console.log("text"); console.error("trouble"); 6 * 7`,
    `import { createFigure, display } from "fringebook";
const x = Array.from({ length: 500 }, (_, n) => n / 500);
await display(createFigure({
  data: [{ type: "scatter", x, y: x.map((t) => Math.cos(40 * t) ** 2) }],
  layout: {
    xaxis: { title: { text: "Time (s)" } },
    yaxis: { title: { text: "Signal (V)" } },
  },
  caption: "A signal",
}));`,
    `await cell.display({ "text/html": "<b id='seen'>first</b>" }, { raw: true, displayId: "d" });
await cell.updateDisplay("d", { "text/html": "<b id='seen'>second</b>" }, { raw: true });`,
  ];
  return JSON.stringify({
    nbformat: 4,
    nbformat_minor: 5,
    metadata: {
      kernelspec: {
        name: "fringebook",
        display_name: "",
        language: "typescript",
      },
    },
    cells: sources.map((source, n) => ({
      id: `cell-${n}`,
      cell_type: "code",
      metadata: {},
      execution_count: null,
      outputs: [],
      source,
    })),
  });
}

async function open(page: Page, path: string): Promise<void> {
  await page.goto(`${server}/notebooks/${path}`);
  await page.waitForFunction(
    "globalThis.Jupyter?.notebook?.kernel?.is_connected() && Jupyter.notebook.kernel.info_reply.status === 'ok'",
    null,
    { timeout: 60_000 },
  );
}

/** Runs all cells by the menu, as a person does, and waits for the last. */
async function runAll(page: Page): Promise<void> {
  await page.click("#celllink");
  await page.click("#run_all_cells");
  await page.waitForFunction(
    `Jupyter.notebook.get_cells().filter((c) => c.cell_type === "code" && c.get_text().trim() !== "")
      .every((c) => typeof c.input_prompt_number === "number")`,
    null,
    { timeout: 300_000 },
  );
}

/** Appends a cell and runs it. */
async function runCell(page: Page, code: string): Promise<void> {
  await page.evaluate(
    `(() => {
      const cell = Jupyter.notebook.insert_cell_at_bottom("code");
      cell.set_text(${JSON.stringify(code)});
      Jupyter.notebook.select(Jupyter.notebook.ncells() - 1);
      cell.execute();
    })()`,
  );
}

const lastOutput = "#notebook .code_cell:last-of-type .output_wrapper";

async function checkPage(page: Page): Promise<void> {
  await check(
    "the page opens and the kernel is ready",
    () => open(page, "page.ipynb"),
  );
  await check("the kernel's own icon is shown", async () => {
    await page.waitForSelector("#kernel_logo_widget img.current_kernel_logo");
    await page.waitForFunction(
      "document.querySelector('#kernel_logo_widget img').naturalWidth === 64",
    );
  });
  await check("run all runs every cell without an error", async () => {
    await runAll(page);
    demand(await page.locator(".output_error").count() === 0, "an error");
  });
  await check("text, trouble and result are shown", async () => {
    const text = await page.textContent(".code_cell >> nth=0") ?? "";
    for (const part of ["text", "trouble", "42"]) {
      demand(text.includes(part), `'${part}' is missing`);
    }
  });
  await check("the plot is seen", async () => {
    const picture = page.locator(".code_cell >> nth=1").locator(
      "figure.fringebook-figure .main-svg",
    ).first();
    await picture.scrollIntoViewIfNeeded();
    await picture.waitFor();
    const box = await picture.boundingBox();
    demand(box !== null && box.width > 200 && box.height > 100, "too small");
  });
  await check("a display is updated in place", async () => {
    await page.waitForFunction(
      "document.querySelector('#seen')?.textContent === 'second'",
    );
    demand(await page.locator("#seen").count() === 1, "shown twice");
  });
  await check("a question is asked in the cell and answered", async () => {
    await runCell(
      page,
      "const name = await cell.input('Your name? '); `Hello ${name}`",
    );
    await page.fill(".raw_input", "Ada");
    await page.press(".raw_input", "Enter");
    await page.waitForFunction(
      `document.querySelector("${lastOutput}")?.textContent.includes("Hello Ada")`,
    );
  });
  await check("the interrupt button stops a loop, variables kept", async () => {
    await runCell(page, "while (true) {}");
    await page.waitForTimeout(500);
    await page.click(
      "#run_int button[data-jupyter-action='jupyter-notebook:interrupt-kernel']",
    );
    await page.waitForSelector(`${lastOutput} .output_error`, {
      timeout: 5000,
    });
    await runCell(page, "name + '!'");
    await page.waitForFunction(
      `document.querySelector("${lastOutput}")?.textContent.includes("Ada!")`,
    );
  });
  await check("completion by the Tab key gives a member", async () => {
    await runCell(page, "1");
    await page.evaluate(
      `(() => {
        const cell = Jupyter.notebook.insert_cell_at_bottom("code");
        cell.set_text("Math.flo");
        Jupyter.notebook.select(Jupyter.notebook.ncells() - 1);
        Jupyter.notebook.edit_mode();
        cell.code_mirror.setCursor({ line: 0, ch: 8 });
      })()`,
    );
    // A key that comes before the editor has the focus goes to the page.
    await page.waitForFunction(
      `Jupyter.notebook.get_cells().at(-1).code_mirror.hasFocus()`,
    );
    await page.keyboard.press("Tab");
    await page.waitForFunction(
      `Jupyter.notebook.get_cells().at(-1).get_text() === "Math.floor"
        || document.querySelector("#complete option")?.textContent === "floor"`,
      null,
      { timeout: 15_000 },
    );
  });
  await page.screenshot({ path: `${screenshots}/page.png`, fullPage: true });
}

/** Code cells of a notebook that are meant to fail. */
async function expectedErrors(page: Page): Promise<number> {
  return Number(
    await page.evaluate(
      `Jupyter.notebook.get_cells().filter((c) => c.metadata.tags?.includes("raises-exception")).length`,
    ),
  );
}

async function checkTutorial(page: Page, path: string): Promise<void> {
  const name = path.split("/").at(-1)!.replace(/\.ipynb$/, "");
  await check(`${name} opens and runs all, with its plots`, async () => {
    await open(page, path);
    await runAll(page);
    const errors = page.locator(".output_error");
    const expected = await expectedErrors(page);
    demand(
      await errors.count() === expected,
      (await errors.allTextContents()).join("\n"),
    );
    const plots = await page.locator("figure.fringebook-figure").count();
    demand(plots > 0, "no plot");
    // The notebook scrolls inside the page: let it take its whole height
    await page.addStyleTag({
      content:
        "#site { height: auto !important; overflow: visible !important }",
    });
    await page.screenshot({
      path: `${screenshots}/${name}.png`,
      fullPage: true,
    });
    console.log(`  ${plots} plots`);
  });
}

async function main(): Promise<void> {
  const folder = await Deno.makeTempDir();
  await Deno.writeTextFile(`${folder}/page.ipynb`, pageNotebook());
  await Deno.mkdir(screenshots, { recursive: true });
  const notebooks = Deno.args.length > 0
    ? Deno.args
    : [...Deno.readDirSync(`${project}notebooks`)].map(({ name }) => name)
      .filter((name) => /^0[128]_.*\.ipynb$/.test(name)).sort()
      .map((name) => `notebooks/${name}`);
  // Copies, so that what the page saves changes nothing
  const paths = await Promise.all(notebooks.map(async (path) => {
    const name = path.split("/").at(-1)!;
    await Deno.copyFile(`${project}${path}`, `${folder}/${name}`);
    return name;
  }));
  const running = await startServer(folder);
  server = running.address;
  const browser = await openBrowser();
  try {
    const page = await browser.newPage({
      viewport: { width: 1280, height: 900 },
    });
    page.setDefaultTimeout(30_000);
    const outside: string[] = [];
    page.on("request", (request) => {
      const url = request.url();
      if (!url.startsWith(server) && !/^(data|blob|about):/.test(url)) {
        outside.push(url);
      }
    });
    page.on("dialog", (dialog) => void dialog.accept());
    await checkPage(page);
    for (const path of paths) await checkTutorial(page, path);
    await check("nothing outside this machine is asked for", () => {
      demand(outside.length === 0, outside.join("\n"));
    });
  } finally {
    await browser.close();
    await running[Symbol.asyncDispose]();
    await Deno.remove(folder, { recursive: true }).catch(() => {});
  }
}

try {
  await main();
} catch (error) {
  fail(`${(error as Error).stack}`);
}
finish();
