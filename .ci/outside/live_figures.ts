/**
 * Figures in the real Notebook page: live and zoomed with the pointer where the
 * notebook is trusted; a picture where it is not; after a restart, after the
 * outputs were cleared, and in the page that nbconvert makes.
 *
 * Run: .ci/outside/live_figures.sh
 *
 * @module
 */
import { join } from "@std/path";
import { type Browser, openBrowser, type Page } from "./browser.ts";
import { createCell, writeNotebook } from "../../lib/notebook/mod.ts";
import { startServer } from "./notebook_server.ts";
import { check, demand, fail, finish } from "./tally.ts";

const project = new URL("../../", import.meta.url).pathname;
const screenshots = join(project, "out/screenshots");

const sources = [
  `import { createFigure, display } from "fringebook";
const time = Array.from({ length: 2000 }, (_, n) => n / 2000);
createFigure({
  data: [{ type: "scatter", x: time, y: time.map((t) => Math.cos(60 * t ** 2) ** 2) }],
  layout: {
    xaxis: { title: { text: "Time (s)" } },
    yaxis: { title: { text: "Signal (V)" } },
  },
  caption: "A chirp",
})`,
  `import { loadDataset } from "fringebook";
const capture = await loadDataset("vibration");
capture`,
];

async function run(command: string, ...args: string[]): Promise<string> {
  const { code, stdout, stderr } = await new Deno.Command(command, { args })
    .output();
  const decoder = new TextDecoder();
  const text = decoder.decode(stdout) + decoder.decode(stderr);
  demand(code === 0, `${command} ${args.join(" ")}:\n${text}`);
  return text;
}

const idle =
  `Jupyter.notebook.get_cells().filter((c) => c.cell_type === "code" && c.get_text().trim() !== "")
    .every((c) => typeof c.input_prompt_number !== "string" || c.input_prompt_number !== "*")`;

/** Opens a notebook in the page. */
async function open(browser: Browser, url: string) {
  const page = await browser.newPage({
    viewport: { width: 1280, height: 1000 },
  });
  page.setDefaultTimeout(60_000);
  const outside: string[] = [];
  page.on("request", (request) => {
    const address = request.url();
    if (address.startsWith(new URL(url).origin)) return;
    if (!/^(data|blob|about):/.test(address)) outside.push(address);
  });
  page.on("dialog", (dialog) => void dialog.accept());
  await page.goto(url);
  await page.waitForFunction(
    "globalThis.Jupyter?.notebook?._fully_loaded && Jupyter.notebook.kernel?.is_connected() && Jupyter.notebook.kernel.info_reply.status === 'ok'",
  );
  return { page, outside };
}

/** Runs cells by their index, one after the other. */
async function runCells(page: Page, ...indices: number[]): Promise<void> {
  for (const index of indices) {
    await page.evaluate(`Jupyter.notebook.get_cell(${index}).execute()`);
  }
  await page.waitForTimeout(200);
  await page.waitForFunction(idle, null, { timeout: 120_000 });
  await page.waitForFunction(
    `[${indices}].every((k) => Jupyter.notebook.get_cell(k).output_area.outputs.length > 0)`,
  );
}

const figures = "#notebook figure.fringebook-figure";

/** Waits until every figure is live; fails where one stays a picture. */
async function demandLive(page: Page, count: number): Promise<void> {
  await page.waitForFunction(
    `document.querySelectorAll("${figures}").length === ${count}`,
  );
  const all = page.locator(figures);
  for (let k = 0; k < count; k++) {
    await all.nth(k).scrollIntoViewIfNeeded();
    await all.nth(k).locator(".main-svg").first().waitFor();
    demand(!await all.nth(k).locator("> img").isVisible(), "shown twice");
  }
  demand(
    !await page.locator(".fringebook-library").first().isVisible(),
    "the line about trust is still seen",
  );
}

/** Waits a while; fails where a figure is live or its picture is not seen. */
async function demandPictures(page: Page, count: number): Promise<void> {
  await page.waitForTimeout(1500);
  const all = page.locator(`${figures} > img`);
  demand(await all.count() === count, `${await all.count()} pictures`);
  for (let k = 0; k < count; k++) {
    await all.nth(k).scrollIntoViewIfNeeded();
    const box = await all.nth(k).boundingBox();
    demand(box !== null && box.width > 400 && box.height > 200, "not seen");
  }
  demand(await page.locator(".js-plotly-plot").count() === 0, "live");
}

/** Drags over the middle of a figure and gives how much of the axis is left. */
async function zoom(page: Page, index: number): Promise<number> {
  const figure = page.locator(figures).nth(index);
  const range = () =>
    figure.locator(".js-plotly-plot").evaluate((graph) =>
      // deno-lint-ignore no-explicit-any
      (graph as any)._fullLayout.xaxis.range as [number, number]
    );
  const area = figure.locator(".nsewdrag").first();
  await area.scrollIntoViewIfNeeded();
  const box = await area.boundingBox();
  demand(box !== null, "no panel");
  const [low, high] = await range();
  const y = box.y + box.height / 2;
  await page.mouse.move(box.x + 0.3 * box.width, y);
  await page.mouse.down();
  await page.mouse.move(box.x + 0.6 * box.width, y, { steps: 6 });
  await page.mouse.up();
  await page.waitForTimeout(400);
  const [from, to] = await range();
  return (to - from) / (high - low);
}

async function save(page: Page): Promise<void> {
  await page.evaluate(
    "Jupyter.notebook.save_notebook(true).then(() => null)",
  );
}

/** Characters of the outputs that hold the library. */
function libraries(text: string): number[] {
  // deno-lint-ignore no-explicit-any
  const outputs = JSON.parse(text).cells.flatMap((c: any) => c.outputs ?? []);
  return outputs
    // deno-lint-ignore no-explicit-any
    .filter((o: any) => o.metadata?.fringebook_library !== undefined)
    .map((o: unknown) => JSON.stringify(o).length);
}

async function main(): Promise<void> {
  const folder = await Deno.makeTempDir();
  await Deno.mkdir(screenshots, { recursive: true });
  const file = join(folder, "live.ipynb");
  await writeNotebook(file, {
    nbformat: 4,
    nbformat_minor: 5,
    metadata: {
      kernelspec: {
        name: "fringebook",
        display_name: "Fringebook",
        language: "typescript",
      },
    },
    cells: sources.map((source, n) =>
      createCell("code", source, { id: `c${n}` })
    ),
  });
  await using server = await startServer(folder);
  const url = `${server.address}/notebooks/live.ipynb`;
  const browser = await openBrowser();
  try {
    await inThePage(browser, url, file);
    await reopened(browser, server.address, folder, file);
    await exported(browser, folder, file);
  } finally {
    await browser.close();
    await Deno.remove(folder, { recursive: true }).catch(() => {});
  }
}

async function inThePage(
  browser: Browser,
  url: string,
  file: string,
): Promise<void> {
  const { page, outside } = await open(browser, url);
  await check("figures of cells that run are live", async () => {
    await runCells(page, 0);
    await runCells(page, 1);
    await demandLive(page, 2);
  });
  await check("dragging over a figure zooms it", async () => {
    for (const index of [0, 1]) {
      const part = await zoom(page, index);
      demand(Math.abs(part - 0.3) < 0.05, `zoomed to ${part} of the axis`);
    }
    await page.locator(figures).first().scrollIntoViewIfNeeded();
    await page.screenshot({ path: `${screenshots}/live_zoom.png` });
  });
  await check(
    "the library is in the notebook once, below 0.75 MB",
    async () => {
      await save(page);
      const sizes = libraries(await Deno.readTextFile(file));
      console.log(`  ${sizes.join(", ")} characters`);
      demand(sizes.length === 1 && sizes[0]! < 750_000, `sizes: ${sizes}`);
    },
  );
  await check("a cell that runs again brings it back", async () => {
    await runCells(page, 0);
    await demandLive(page, 2);
    await save(page);
    const sizes = libraries(await Deno.readTextFile(file));
    demand(sizes.length === 1, `${sizes.length} libraries`);
  });
  await check("after a restart a single cell is live", async () => {
    await page.evaluate(
      `new Promise((done) => Jupyter.notebook.kernel.restart(() => done(null)))`,
    );
    await page.waitForFunction(
      "Jupyter.notebook.kernel.is_connected() && Jupyter.notebook.kernel.info_reply.status === 'ok'",
    );
    await runCells(page, 1);
    await demandLive(page, 2);
  });
  await check(
    "after Clear what runs is live, also when opened again",
    async () => {
      await page.evaluate("Jupyter.notebook.clear_all_output()");
      demand(await page.locator(figures).count() === 0, "not cleared");
      await runCells(page, 0);
      await runCells(page, 1);
      await demandLive(page, 2);
      await save(page);
      await page.reload();
      await page.waitForFunction(
        "globalThis.Jupyter?.notebook?._fully_loaded && Jupyter.notebook.kernel?.is_connected()",
      );
      await demandLive(page, 2);
    },
  );
  await check("on paper the pictures stand in", async () => {
    await page.emulateMedia({ media: "print" });
    const figure = page.locator(figures).first();
    demand(await figure.locator("> img").isVisible(), "no picture");
    demand(!await figure.locator(".js-plotly-plot").isVisible(), "two");
    await page.emulateMedia({ media: "screen" });
  });
  await check("nothing outside this machine is asked for", () => {
    demand(outside.length === 0, outside.join("\n"));
  });
  await page.close();
}

async function reopened(
  browser: Browser,
  address: string,
  folder: string,
  file: string,
): Promise<void> {
  // Trust goes by what a notebook holds: another word makes it a stranger's.
  const notebook = JSON.parse(await Deno.readTextFile(file));
  notebook.metadata.from = "somebody else";
  const other = join(folder, "stranger.ipynb");
  await Deno.writeTextFile(other, JSON.stringify(notebook));
  const url = `${address}/notebooks/stranger.ipynb`;
  await check(
    "untrusted: pictures, and a line that says how to zoom",
    async () => {
      const { page } = await open(browser, url);
      demand(!await page.evaluate("Jupyter.notebook.trusted"), "trusted");
      await demandPictures(page, 2);
      // On a slow machine a line of progress stands there as well.
      const lines = await page.locator(".fringebook-library, #notebook small")
        .allInnerTexts();
      demand(lines.some((line) => /trust/.test(line)), lines.join("\n"));
      await page.screenshot({ path: `${screenshots}/live_untrusted.png` });
      await page.close();
    },
  );
  await check("trusted and opened again: live", async () => {
    await run("/usr/bin/python3", "-m", "nbformat.sign", other);
    const { page } = await open(browser, url);
    demand(await page.evaluate("Jupyter.notebook.trusted"), "not trusted");
    await demandLive(page, 2);
    await page.close();
  });
  await check(
    "without the cell of the library: pictures until it is there again",
    async () => {
      for (const cell of notebook.cells) {
        cell.outputs = cell.outputs.filter((output: { metadata?: object }) =>
          !("fringebook_library" in (output.metadata ?? {}))
        );
      }
      const lone = join(folder, "lone.ipynb");
      await Deno.writeTextFile(lone, JSON.stringify(notebook));
      await run("/usr/bin/python3", "-m", "nbformat.sign", lone);
      const { page } = await open(browser, `${address}/notebooks/lone.ipynb`);
      await demandPictures(page, 2);
      await runCells(page, 0);
      await demandLive(page, 2);
      await page.close();
    },
  );
}

async function exported(
  browser: Browser,
  folder: string,
  file: string,
): Promise<void> {
  await check(
    "nbconvert's page: live from disk, pictures without scripts",
    async () => {
      await run(
        "/usr/bin/jupyter-nbconvert",
        ...["--to", "html", "--output-dir", folder, file],
      );
      const at = `file://${join(folder, "live.html")}`;
      const live = await browser.newPage();
      // Its template asks a network for formulas; there is none here.
      await live.route(/^https?:/, (route) => route.abort());
      await live.goto(at);
      const all = live.locator("figure.fringebook-figure");
      demand(await all.count() === 2, `${await all.count()} figures`);
      for (let k = 0; k < 2; k++) {
        await all.nth(k).scrollIntoViewIfNeeded();
        await all.nth(k).locator(".main-svg").first().waitFor();
      }
      await live.screenshot({ path: `${screenshots}/live_nbconvert.png` });
      await live.close();
      const context = await browser.newContext({ javaScriptEnabled: false });
      const still = await context.newPage();
      await still.goto(at, { waitUntil: "domcontentloaded" });
      const pictures = still.locator("figure.fringebook-figure > img");
      demand(await pictures.count() === 2, "pictures are missing");
      const box = await pictures.first().boundingBox();
      demand(box !== null && box.width > 300, "not seen");
      await context.close();
    },
  );
}

try {
  await main();
} catch (error) {
  fail(`${(error as Error).stack}`);
}
finish();
