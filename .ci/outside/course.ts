/**
 * The tutorials as a new user meets them: in the real Notebook page, in a real
 * browser. Each opens and runs all its cells; then every exercise is answered,
 * once right and once with each mistake it invites, and the self-check must
 * react. At the end the exported pages are looked through by axe-core and with
 * the keyboard alone.
 *
 * Run: .ci/outside/course.sh [part of a name…]
 *
 * @module
 */
import { type Browser, openBrowser, type Page } from "./browser.ts";
import { findExercise } from "../../lib/course/mod.ts";
import { readNotebook, renderPage } from "../../lib/notebook/mod.ts";
import { startServer } from "./notebook_server.ts";
import { check, demand, fail, finish } from "./tally.ts";

const project = new URL("../../", import.meta.url).pathname;
/** Address of the Notebook server, once it runs. */
let server = "";

/** Copies of the tutorials and the captures, laid out as in the project. */
async function copyCourse(folder: string, names: string[]): Promise<void> {
  for (const part of ["notebooks", "datasets"]) {
    await Deno.mkdir(`${folder}/${part}`, { recursive: true });
    for await (const { name, isFile } of Deno.readDir(`${project}${part}`)) {
      if (part === "notebooks" && !names.includes(name)) continue;
      if (!isFile) continue;
      await Deno.copyFile(
        `${project}${part}/${name}`,
        `${folder}/${part}/${name}`,
      );
    }
  }
}

async function open(page: Page, name: string): Promise<void> {
  await page.goto(`${server}/notebooks/notebooks/${name}`);
  await page.waitForFunction(
    "globalThis.Jupyter?.notebook?.kernel?.is_connected() && Jupyter.notebook.kernel.info_reply.status === 'ok'",
    null,
    { timeout: 90_000 },
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

/** An exercise cell of a page: where it stands and which exercise it is. */
interface ExerciseCell {
  readonly index: number;
  readonly name: string;
  readonly source: string;
}

async function exerciseCells(page: Page): Promise<ExerciseCell[]> {
  const sources = await page.evaluate(
    "Jupyter.notebook.get_cells().map((c) => c.cell_type === 'code' ? c.get_text() : '')",
  ) as string[];
  return sources.flatMap((source, index) => {
    const name = /\b(?:check|checkAnswer)\("([\w.-]+)"/.exec(source)?.[1];
    return name === undefined ? [] : [{ index, name, source }];
  });
}

/** Puts a number into an exercise cell, runs it, and returns what it says. */
async function answer(
  page: Page,
  { index, source }: ExerciseCell,
  value: number,
): Promise<string> {
  const text = source.replace(/value: NaN/, `value: ${value}`);
  demand(text !== source, `cell ${index} has no 'value: NaN' to change`);
  return await page.evaluate(
    `(async () => {
      const cell = Jupyter.notebook.get_cell(${index});
      const before = cell.input_prompt_number;
      cell.set_text(${JSON.stringify(text)});
      cell.execute();
      const begin = Date.now();
      while (cell.input_prompt_number === before || typeof cell.input_prompt_number !== "number") {
        if (Date.now() - begin > 60000) return "no answer in 60 s";
        await new Promise((resolve) => setTimeout(resolve, 20));
      }
      while (cell.output_area.outputs.length === 0) {
        if (Date.now() - begin > 60000) return "no output in 60 s";
        await new Promise((resolve) => setTimeout(resolve, 20));
      }
      return cell.output_area.element[0].innerText;
    })()`,
  ) as string;
}

async function checkTutorial(page: Page, name: string): Promise<void> {
  await check(`${name} opens and runs all without an error`, async () => {
    await open(page, name);
    await runAll(page);
    const errors = page.locator(".output_error");
    demand(
      await errors.count() === 0,
      (await errors.allTextContents()).join("\n"),
    );
  });
  for (const cell of await exerciseCells(page)) {
    await check(`${name}: ${cell.name} knows right and wrong`, async () => {
      const exercise = findExercise(cell.name);
      const right = await answer(page, cell, exercise.truth);
      demand(/Right\./.test(right), `the right value got: ${right}`);
      // A number that no mistake makes, then each mistake it invites
      const odd = await answer(page, cell, exercise.truth * 1.2345);
      demand(/Not within/.test(odd), `a wrong value got: ${odd}`);
      for (const { cause, value } of exercise.mistakes) {
        const said = await answer(page, cell, value);
        demand(said.includes(cause), `'${cause}' got: ${said}`);
        demand(
          !said.includes(exercise.truth.toPrecision(4)),
          `the hint tells the answer: ${said}`,
        );
      }
    });
  }
  await check(
    `${name}: its exported page can be used by everybody`,
    () => checkExport(page, name),
  );
}

/** What a page of this name looks like once saved and exported. */
async function checkExport(page: Page, name: string): Promise<void> {
  await page.evaluate("Jupyter.notebook.save_notebook()");
  const path = `${copies}/notebooks/${name}`;
  const file = `${copies}/${name}.html`;
  await Deno.writeTextFile(
    file,
    await renderPage(await readNotebook(path), { path }),
  );
  const view = await page.context().newPage();
  try {
    await view.goto(`file://${file}`);
    await view.waitForLoadState("load");
    const axe = Deno.readTextFileSync(
      new URL(import.meta.resolve("npm:axe-core@4.11.0/axe.min.js")),
    );
    await view.evaluate(axe);
    const found = await view.evaluate(
      `axe.run(document, { resultTypes: ["violations"] }).then(({ violations }) =>
        violations.map(({ id, impact, nodes }) => id + " (" + impact + ") " + nodes.slice(0, 3).map((n) => n.target.join(" ")).join(", ")))`,
    ) as string[];
    demand(found.length === 0, found.join("\n"));
    const silent = await view.evaluate(
      `[...document.querySelectorAll("img")].filter((image) => !image.alt.trim()).length`,
    );
    demand(silent === 0, `${silent} pictures without a text`);
    await checkKeyboard(view);
  } finally {
    await view.close();
  }
}

/** Every thing to press is reached with the Tab key, and shows that it is. */
async function checkKeyboard(view: Page): Promise<void> {
  const all = Number(
    await view.evaluate(
      `[...document.querySelectorAll("a[href], button, summary, input, select")]
        .filter((e) => e.getClientRects().length > 0 && e.tabIndex >= 0).length`,
    ),
  );
  await view.evaluate("document.activeElement?.blur()");
  const seen = new Set<string>();
  let unseen = "";
  for (let n = 0; n < Math.min(all, 25); n++) {
    await view.keyboard.press("Tab");
    const at = await view.evaluate(
      `(() => {
        const e = document.activeElement;
        const s = getComputedStyle(e);
        const i = [...document.querySelectorAll("*")].indexOf(e);
        return { i: String(i), tag: e.tagName, shown: s.outlineStyle !== "none" || s.boxShadow !== "none" };
      })()`,
    ) as { i: string; tag: string; shown: boolean };
    if (at.tag === "BODY") break;
    seen.add(at.i);
    if (!at.shown) unseen = at.tag;
  }
  demand(seen.size >= Math.min(all, 20), `Tab reaches ${seen.size} of ${all}`);
  demand(unseen === "", `no mark of the focus on ${unseen}`);
}

let copies = "";

async function main(): Promise<void> {
  const names = [...Deno.readDirSync(`${project}notebooks`)]
    .map(({ name }) => name)
    .filter((name) => name.endsWith(".ipynb"))
    .filter((name) => Deno.args.every((part) => name.includes(part)))
    .sort();
  await Deno.mkdir(`${project}out`, { recursive: true });
  copies = await Deno.makeTempDir({ dir: `${project}out`, prefix: "course-" });
  await copyCourse(copies, names);
  const running = await startServer(copies);
  server = running.address;
  const browser: Browser = await openBrowser();
  try {
    const queue = [...names];
    await Promise.all(Array.from({ length: 2 }, async () => {
      const context = await browser.newContext({
        viewport: { width: 1280, height: 900 },
      });
      const page = await context.newPage();
      page.setDefaultTimeout(60_000);
      page.on("dialog", (dialog) => void dialog.accept());
      for (let name = queue.shift(); name; name = queue.shift()) {
        await checkTutorial(page, name);
        await page.evaluate("Jupyter.notebook.session.delete()").catch(
          () => {},
        );
      }
    }));
  } finally {
    await browser.close();
    await running[Symbol.asyncDispose]();
    await Deno.remove(copies, { recursive: true }).catch(() => {});
  }
}

try {
  await main();
} catch (error) {
  fail(`${(error as Error).stack}`);
}
finish();
