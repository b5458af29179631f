/**
 * Executed tutorials reopened in the real Notebook page without running them:
 * once untrusted (as a run without a browser leaves them, unsigned) and once
 * trusted (signed by nbformat's trust command). Every figure, table and warning of the file must
 * be seen. Then a notebook is run on a disk that is full.
 *
 * Run: .ci/outside/notebook_trust.sh [part of a name…]
 *
 * @module
 */
import { join } from "@std/path";
import { type BrowserContext, openBrowser, type Page } from "./browser.ts";
import {
  createCell,
  type Notebook,
  readNotebook,
  runNotebook,
  writeNotebook,
} from "../../lib/notebook/mod.ts";
import { startServer } from "./notebook_server.ts";
import { check, demand, fail, finish } from "./tally.ts";

const project = new URL("../../", import.meta.url).pathname;
const screenshots = join(project, "out/screenshots");
const chosen = Deno.args.length > 0
  ? Deno.args
  : ["04_displacement", "07_tuning"];

async function run(command: string, ...args: string[]) {
  const { code, stdout, stderr } = await new Deno.Command(command, {
    args,
    cwd: project,
  }).output();
  const decoder = new TextDecoder();
  return { code, text: decoder.decode(stdout) + decoder.decode(stderr) };
}

/** Executed tutorials, the chosen ones; runs the tour where they are missing. */
async function executedTutorials(): Promise<string[]> {
  const wanted = [...Deno.readDirSync(join(project, "notebooks"))]
    .map(({ name }) => name)
    .filter((name) => name.endsWith(".ipynb"))
    .filter((name) => chosen.some((part) => name.includes(part)))
    .sort();
  demand(wanted.length > 0, `no tutorial is named like ${chosen.join(", ")}`);
  const paths = wanted.map((name) => join(project, "out", name));
  const there = await Promise.all(
    paths.map((path) => Deno.stat(path).then(() => true, () => false)),
  );
  if (there.includes(false)) {
    const { code, text } = await run(Deno.execPath(), "task", "tour");
    demand(code === 0, `the tour fails:\n${text}`);
  }
  return paths;
}

/** The same notebook with the text and code alone. */
function withoutOutputs(notebook: Notebook): Notebook {
  const cells = notebook.cells.map((cell) =>
    cell.cell_type === "code" ? { ...cell, outputs: [] } : cell
  );
  return { ...notebook, cells };
}

/** What the file says one cell shows. */
interface Stored {
  readonly cell: number;
  readonly pictures: number;
  /** HTML of the outputs. */
  readonly html: readonly string[];
}

function storedOutputs(notebook: Notebook): Stored[] {
  return notebook.cells.flatMap((cell, index) => {
    const data = (cell.outputs ?? []).flatMap((output) =>
      "data" in output ? [output.data as Record<string, unknown>] : []
    );
    if (data.length === 0) return [];
    const html = data.flatMap((bundle) =>
      "text/html" in bundle ? [[bundle["text/html"]].flat().join("")] : []
    );
    const pictures = data.filter((bundle) =>
      "image/png" in bundle || "application/vnd.plotly.v1+json" in bundle
    ).length;
    return [{ cell: index, pictures, html }];
  });
}

/** Looks in the page for what the file holds; gives what is missing. */
const LOOK = `async (stored) => {
  const clean = (text) => text.replace(/\\s+/g, " ").trim();
  const seen = (element) => {
    const box = element.getBoundingClientRect();
    return element.checkVisibility({ opacityProperty: true, visibilityProperty: true })
      && box.width > 20 && box.height > 10;
  };
  // A figure that became live stands in its picture's place.
  const live = (image) => {
    const drawn = image.closest("figure.fringebook-active")?.querySelector(".main-svg");
    return drawn != null && seen(drawn);
  };
  const colours = (image) => {
    const canvas = document.createElement("canvas");
    canvas.width = image.naturalWidth;
    canvas.height = image.naturalHeight;
    const context = canvas.getContext("2d");
    context.drawImage(image, 0, 0);
    const { data } = context.getImageData(0, 0, canvas.width, canvas.height);
    return new Set(new Uint32Array(data.buffer)).size;
  };
  const wrong = [];
  const sums = { pictures: 0, tables: 0, warnings: 0 };
  for (const { cell, pictures, html } of stored) {
    const tell = (what) => wrong.push("cell " + (cell + 1) + ": " + what);
    const area = Jupyter.notebook.get_cell(cell).output_area.element[0];
    const images = [...area.querySelectorAll("img")];
    if (images.length !== pictures) tell(images.length + " of " + pictures + " pictures");
    for (const image of images) {
      await image.decode().catch(() => {});
      if (!(image.naturalWidth > 0)) tell("a picture without a width");
      else if (!seen(image) && !live(image)) tell("a picture that is not seen");
      else if (colours(image) < 3) tell("a picture with " + colours(image) + " colours");
      else sums.pictures++;
    }
    const shown = clean(area.innerText);
    const tables = [...area.querySelectorAll("table")];
    let next = 0;
    for (const text of html) {
      const parsed = new DOMParser().parseFromString(text, "text/html");
      for (const table of parsed.querySelectorAll("table")) {
        const there = tables[next++];
        if (!there || !seen(there)) tell("a table that is not seen");
        else if (clean(there.textContent) !== clean(table.textContent)) {
          tell("a table with another text: " + clean(there.textContent));
        } else sums.tables++;
      }
      for (const note of parsed.querySelectorAll("[role=note]")) {
        if (shown.includes(clean(note.textContent))) sums.warnings++;
        else tell("a warning that is not seen: " + clean(note.textContent));
      }
    }
  }
  return { wrong, sums };
}`;

interface Look {
  readonly wrong: readonly string[];
  readonly sums: { pictures: number; tables: number; warnings: number };
}

/** What a page says on its console and asks of other machines. */
function listen(page: Page, address: string) {
  const complaints: string[] = [];
  const outside: string[] = [];
  page.on("console", (message) => {
    if (message.type() !== "error") return;
    complaints.push(`${message.text()} (${message.location().url})`);
  });
  page.on("pageerror", (error) => void complaints.push(error.message));
  page.on("request", (request) => {
    const url = request.url();
    if (url.startsWith(address) || /^(data|blob|about):/.test(url)) return;
    outside.push(url);
  });
  page.on("dialog", (dialog) => void dialog.accept());
  return { complaints, outside };
}

type State = "untrusted" | "trusted";

interface Executed {
  readonly name: string;
  readonly path: string;
  readonly stored: readonly Stored[];
}

/** Opens a notebook, lets `look` at it, and gives what the page said. */
async function open(
  context: BrowserContext,
  url: string,
  look: (page: Page) => Promise<void>,
) {
  const page = await context.newPage();
  page.setDefaultTimeout(60_000);
  const said = listen(page, new URL(url).origin);
  try {
    await page.goto(url);
    await page.waitForFunction("globalThis.Jupyter?.notebook?._fully_loaded");
    await page.waitForFunction("Jupyter.notebook.kernel?.is_connected()");
    await page.waitForLoadState("networkidle");
    // Until the formulas are set
    await page.evaluate(
      "new Promise((done) => globalThis.MathJax ? MathJax.Hub.Queue(() => done()) : done())",
    );
    await look(page);
  } finally {
    await page.evaluate("Jupyter.notebook.session.delete()").catch(() => {});
    await page.close();
  }
  return said;
}

async function reopen(
  context: BrowserContext,
  folder: string,
  { name, stored, state, own }: Executed & {
    state: State;
    /** What the page says by itself, without our outputs. */
    own: readonly string[];
  },
): Promise<void> {
  const title = `${name}, ${state}`;
  const url = `${folder}/${name}.ipynb`;
  const { complaints, outside } = await open(context, url, async (page) => {
    await check(`${title}: opens as ${state}`, async () => {
      const trusted = await page.evaluate("Jupyter.notebook.trusted");
      demand(trusted === (state === "trusted"), `trusted: ${trusted}`);
    });
    await check(`${title}: figures, tables and warnings are seen`, async () => {
      const { wrong, sums } = await page.evaluate(
        `(${LOOK})(${JSON.stringify(stored)})`,
      ) as Look;
      console.log(
        `  ${title}: ${sums.pictures} pictures, ${sums.tables} tables, ${sums.warnings} warnings`,
      );
      demand(wrong.length === 0, wrong.join("\n"));
      demand(sums.pictures > 0 && sums.tables > 0, "nothing to look at");
    });
    await check(`${title}: what is folded opens with a click`, async () => {
      const folded = page.locator(".output_html details");
      demand(await folded.count() > 0, "nothing is folded");
      await folded.first().locator("summary").click();
      const text = await folded.first().innerText();
      const mark = await folded.first().locator("summary").evaluate(
        (element) => getComputedStyle(element).display,
      );
      console.log(`  '${text.replace(/\s+/g, " ").slice(0, 60)}…' ${mark}`);
      demand(text.length > 40, `it shows only '${text}'`);
      await folded.first().locator("summary").click();
    });
    // The notebook scrolls inside the page: let it take its whole height
    await page.addStyleTag({
      content:
        "#site { height: auto !important; overflow: visible !important }",
    });
    await page.screenshot({
      path: join(screenshots, `${name}.${state}.png`),
      fullPage: true,
    });
  });
  await check(`${title}: no error on the console from its outputs`, () => {
    const ours = complaints.filter((text) => !own.includes(text));
    demand(ours.length === 0, ours.join("\n"));
  });
  await check(`${title}: nothing outside this machine is asked for`, () => {
    demand(outside.length === 0, outside.join("\n"));
  });
}

async function checkTrust(): Promise<void> {
  const paths = await executedTutorials();
  await Deno.mkdir(screenshots, { recursive: true });
  const folder = await Deno.makeTempDir();
  try {
    await using server = await startServer(folder);
    const { address } = server;
    await check("the server is Jupyter Notebook 6.4", async () => {
      const { version } = await (await fetch(`${address}/api`)).json();
      console.log(`  version ${version}`);
      demand(/^6\.4\./.test(version), `it is ${version}`);
    });
    const notebooks = await Promise.all(paths.map(async (path) => {
      const notebook = await readNotebook(path);
      const name = path.split("/").at(-1)!.replace(/\.ipynb$/, "");
      return { name, path, stored: storedOutputs(notebook) };
    }));
    const browser = await openBrowser();
    try {
      const context = await browser.newContext({
        viewport: { width: 1280, height: 900 },
      });
      // Trust goes by what a notebook holds: unsigned ones first
      await Promise.all(notebooks.map(async (notebook) => {
        const { name, path } = notebook;
        await Deno.mkdir(join(folder, name));
        const file = join(folder, name, `${name}.ipynb`);
        const at = `${address}/notebooks/${name}`;
        await writeNotebook(file, withoutOutputs(await readNotebook(path)));
        const { complaints: own } = await open(
          context,
          `${at}/${name}.ipynb`,
          async () => {},
        );
        for (const text of own) {
          console.log(`  ${name}, the page's own: ${text}`);
        }
        await Deno.copyFile(path, file);
        await reopen(context, at, { ...notebook, state: "untrusted", own });
        // What 'jupyter trust' runs; not every system has the short command
        const { code, text } = await run(
          "/usr/bin/python3",
          ...["-m", "nbformat.sign", file],
        );
        demand(code === 0, `the notebook cannot be trusted:\n${text}`);
        await reopen(context, at, { ...notebook, state: "trusted", own });
      }));
    } finally {
      await browser.close();
    }
  } finally {
    await Deno.remove(folder, { recursive: true }).catch(() => {});
  }
}

/** Files of a folder and what is in them. */
async function contents(folder: string): Promise<Record<string, string>> {
  const found: Record<string, string> = {};
  for await (const { name } of Deno.readDir(folder)) {
    found[name] = await Deno.readTextFile(join(folder, name));
  }
  return found;
}

/** Runs a notebook in place on a true disk of 1 MB that has no room left. */
async function checkFullDisk(): Promise<void> {
  const disk = await Deno.makeTempDir();
  const mount = await run(
    "mount",
    ...["-t", "tmpfs", "-o", "size=1m", "tmpfs", disk],
  );
  if (mount.code !== 0) {
    await Deno.remove(disk);
    throw new Error(
      `this check needs a small disk of its own, so it must run as root: ${mount.text}`,
    );
  }
  try {
    const path = join(disk, "work.ipynb");
    // Its output does not fit in what the filler leaves
    const source = `console.log("y".repeat(100_000))`;
    await writeNotebook(path, {
      nbformat: 4,
      nbformat_minor: 5,
      metadata: {},
      cells: [createCell("code", source, { id: "long" })],
    });
    const filler = join(disk, "filler");
    await Deno.writeTextFile(filler, "f".repeat(1_000_000));
    const before = await contents(disk);
    const unchanged = async () => {
      const after = await contents(disk);
      demand(
        JSON.stringify(after) === JSON.stringify(before),
        `the disk now holds ${
          Object.entries(after).map(([name, text]) => `${name} ${text.length}`)
            .join(", ")
        }`,
      );
    };
    await check(
      "a full disk: 'runNotebook' says which file and why",
      async () => {
        const error = await runNotebook(path).then(() => null, (e: Error) => e);
        demand(error !== null, "it ends as if all were well");
        console.log(`  ${error.name}: ${error.message}`);
        for (const part of [path, "disk is full"]) {
          demand(error.message.includes(part), `'${part}' is not in it`);
        }
        await unchanged();
      },
    );
    await check(
      "a full disk: 'deno task run' fails, the old file is whole",
      async () => {
        const { code, text } = await run(
          Deno.execPath(),
          ...["task", "--quiet", "run", path],
        );
        console.log(`  exit code ${code}: ${text.trim().split("\n").at(-1)}`);
        demand(code === 2, `exit code ${code}`);
        for (const part of [path, "not saved", "disk is full"]) {
          demand(text.includes(part), `'${part}' is not in it:\n${text}`);
        }
        await unchanged();
      },
    );
    await check("with room again the same command saves", async () => {
      await Deno.remove(filler);
      const { code, text } = await run(
        Deno.execPath(),
        ...["task", "--quiet", "run", path],
      );
      demand(code === 0, `exit code ${code}:\n${text}`);
      const saved = (await contents(disk))["work.ipynb"] ?? "";
      demand(saved.includes("y".repeat(100_000)), "without the output");
    });
  } finally {
    await run("umount", disk);
    await Deno.remove(disk).catch(() => {});
  }
}

for (const part of [checkTrust, checkFullDisk]) {
  try {
    await part();
  } catch (error) {
    fail(`${(error as Error).message}`);
  }
}
finish();
