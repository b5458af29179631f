/**
 * Figures and reports in a real browser: a self-contained page from disk with
 * and without scripts, in the dark and on paper; the outputs in JupyterLab's
 * own renderers, trusted and untrusted; an accessibility checker.
 *
 * Run: .ci/outside/display.sh [folder for screenshots]
 *
 * @module
 */
import { type Browser, openBrowser, type Page } from "./browser.ts";
import { axe } from "./browser.ts";
import { drawPicture, type Figure } from "fringebook";
import { bundleOfValue } from "fringebook/display";
import { type Notebook, renderPage } from "fringebook/notebook";
import { libraryHtml } from "../../lib/display/figure_library.ts";
import { nasty } from "../../tests/display/nasty_text.ts";
import { sampleMeasurements } from "../../tests/display/sample_measurements.ts";
import { sampleResult } from "../../tests/display/sample_results.ts";
import { check, demand, finish } from "./tally.ts";

const project = new URL("../../", import.meta.url).pathname;
const screenshots = Deno.args[0] ?? `${project}out/screenshots`;
const work = `${project}out/outside-display`;

type Bundle = Record<string, unknown>;

/** What a cell with this value as its last one shows. */
async function outputsOf(value: unknown): Promise<Bundle[]> {
  const outputs: Bundle[] = [];
  const scope = globalThis as Record<symbol, unknown>;
  const key = Symbol.for("fringebook.cell");
  scope[key] = {
    publish: ({ data }: { data: Bundle }) => outputs.push(data),
  };
  try {
    outputs.push(await bundleOfValue(value));
  } finally {
    delete scope[key];
  }
  return outputs;
}

function notebookOf(cells: [string, Bundle[]][]): Notebook {
  return {
    nbformat: 4,
    nbformat_minor: 5,
    metadata: {},
    cells: cells.flatMap(([title, outputs], k) => [
      {
        cell_type: "markdown" as const,
        id: `m${k}`,
        metadata: {},
        source: `${k === 0 ? "# Figures\n\n" : ""}## ${title}`,
      },
      {
        cell_type: "code" as const,
        id: `c${k}`,
        metadata: {},
        source: `show("${title}")`,
        execution_count: k + 1,
        outputs: outputs.map((data) => ({
          output_type: "display_data" as const,
          data,
          metadata: {},
        })),
      },
    ]),
  };
}

/** A page whose every complaint and request is kept. */
async function watched(
  browser: Browser,
  options: Parameters<Browser["newContext"]>[0] = {},
): Promise<{ page: Page; complaints: string[] }> {
  const context = await browser.newContext({
    viewport: { width: 1000, height: 800 },
    ...options,
  });
  const page = await context.newPage();
  const complaints: string[] = [];
  page.on("console", (message) => {
    if (message.type() === "error" || message.type() === "warning") {
      complaints.push(`${message.type()}: ${message.text()}`);
    }
  });
  page.on("pageerror", (error) => complaints.push(`error: ${error.message}`));
  page.on("request", (request) => {
    if (!/^(file|data|blob):/.test(request.url())) {
      complaints.push(`request: ${request.url()}`);
    }
  });
  return { page, complaints };
}

async function violations(page: Page): Promise<string[]> {
  await page.evaluate(axe.source);
  const { violations } = await page.evaluate(() =>
    // deno-lint-ignore no-explicit-any
    (globalThis as any).axe.run(document, {
      runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"],
    })
  );
  return violations.map((
    { id, nodes }: { id: string; nodes: { html: string }[] },
  ) => `${id}: ${nodes.length} × ${nodes[0]?.html.slice(0, 200)}`);
}

await Deno.mkdir(screenshots, { recursive: true });
await Deno.mkdir(work, { recursive: true });
const measurements = sampleMeasurements();
const shown: [string, Bundle[]][] = [];
for (const [name, result] of Object.entries(measurements)) {
  shown.push([name, await outputsOf(result)]);
}
const figureCount = shown.flatMap(([, outputs]) => outputs)
  .filter((bundle) => "image/png" in bundle).length;
const page = await renderPage(notebookOf(shown), { path: "figures.ipynb" });
const file = `${work}/figures.html`;
await Deno.writeTextFile(file, page);
const size = JSON.stringify(notebookOf(shown)).length;

await check(
  "a notebook with every figure has below 90 kB per output, and each below 300 kB",
  () => {
    // Two thirds of it are pictures, a third is for being live.
    const figures = shown.reduce((sum, [, outputs]) => sum + outputs.length, 0);
    console.log(`   ${figures} outputs`);
    demand(size < 90_000 * figures, `notebook: ${size} bytes`);
    for (const [name, outputs] of shown) {
      for (const bundle of outputs) {
        const bytes = JSON.stringify(bundle).length;
        demand(bytes < 300_000, `${name}: ${bytes} bytes`);
      }
    }
    console.log(`   notebook ${size} bytes, page ${page.length} bytes`);
    return Promise.resolve();
  },
);

await check(
  "the page carries plotly.js once and no address of a network",
  () => {
    const copies = page.split("plotly.js (cartesian - minified)").length - 1;
    demand(copies === 1, `copies of plotly.js: ${copies}`);
    demand(!/<(script|link|img)[^>]+(src|href)="https?:/.test(page), "address");
    return Promise.resolve();
  },
);

const browser = await openBrowser();
try {
  await pageChecks(browser);
  await labChecks(browser);
  await tutorialChecks(browser);
} finally {
  await browser.close();
}
finish();

async function pageChecks(browser: Browser): Promise<void> {
  await check("without scripts every figure is a picture", async () => {
    const { page, complaints } = await watched(browser, {
      javaScriptEnabled: false,
    });
    await page.goto(`file://${file}`);
    const pictures = page.locator("figure.fringebook-figure img");
    demand(await pictures.count() === figureCount, "pictures are missing");
    for (let k = 0; k < figureCount; k++) {
      const box = await pictures.nth(k).boundingBox();
      demand(
        box !== null && box.width > 400 && box.height > 150,
        `${k}: blank`,
      );
    }
    demand(complaints.length === 0, complaints.join("\n"));
    await page.screenshot({
      path: `${screenshots}/page_without_scripts.png`,
      fullPage: true,
    });
    await page.context().close();
  });

  const { page, complaints } = await watched(browser);
  await check(
    "with scripts every figure becomes interactive in place, without complaint",
    async () => {
      await page.goto(`file://${file}`);
      const figures = page.locator("figure.fringebook-figure");
      for (let k = 0; k < figureCount; k++) {
        await figures.nth(k).scrollIntoViewIfNeeded();
        await figures.nth(k).locator(".main-svg").first().waitFor();
        demand(
          !await figures.nth(k).locator("> img").isVisible(),
          "two figures",
        );
      }
      demand(complaints.length === 0, complaints.join("\n"));
      await page.screenshot({
        path: `${screenshots}/page_with_scripts.png`,
        fullPage: true,
      });
    },
  );

  const capture = page.locator("figure.fringebook-figure").first();
  const range = () =>
    capture.locator(".js-plotly-plot").evaluate((div) =>
      // deno-lint-ignore no-explicit-any
      (div as any)._fullLayout.xaxis.range as number[]
    );
  await check("pointing at a trace shows value and unit", async () => {
    const area = capture.locator(".nsewdrag").last();
    await area.scrollIntoViewIfNeeded();
    const box = await area.boundingBox();
    demand(box !== null, "no panel");
    await page.mouse.move(box.x + box.width / 3, box.y + box.height / 2);
    const label = capture.locator(".hoverlayer .hovertext").first();
    await label.waitFor();
    const text = await label.textContent() ?? "";
    demand(/ms/.test(text) && /[mµ]?[VA]/.test(text), `label: ${text}`);
    await page.screenshot({ path: `${screenshots}/hover.png` });
  });

  await check("zooming one panel zooms the others with it", async () => {
    const area = capture.locator(".nsewdrag").first();
    const box = await area.boundingBox();
    demand(box !== null, "no panel");
    const [low, high] = await range() as [number, number];
    const y = box.y + box.height / 2;
    await page.mouse.move(box.x + 0.25 * box.width, y);
    await page.mouse.down();
    await page.mouse.move(box.x + 0.5 * box.width, y, { steps: 5 });
    await page.mouse.up();
    await page.waitForTimeout(300);
    const [from, to] = await range() as [number, number];
    const part = (to - from) / (high - low);
    demand(Math.abs(part - 0.25) < 0.02, `zoomed to ${part} of the axis`);
    const axes = await capture.locator(".xaxislayer-above").count();
    demand(axes >= 1, "no shared axis");
  });

  await check(
    "on paper the pictures stand in for the interactive figures",
    async () => {
      await page.emulateMedia({ media: "print" });
      demand(await capture.locator("> img").isVisible(), "no picture");
      demand(!await capture.locator(".js-plotly-plot").isVisible(), "two");
      await page.emulateMedia({ media: "screen" });
    },
  );
  await page.context().close();

  for (const colorScheme of ["light", "dark"] as const) {
    await check(
      `axe-core finds nothing against WCAG 2.1 AA (${colorScheme})`,
      async () => {
        const { page } = await watched(browser, {
          colorScheme,
          bypassCSP: true,
        });
        await page.goto(`file://${file}`);
        await page.locator(".main-svg").first().waitFor();
        await page.screenshot({
          path: `${screenshots}/page_${colorScheme}.png`,
        });
        const found = await violations(page);
        demand(found.length === 0, found.join("\n"));
        await page.context().close();
      },
    );
  }

  await check(
    "the picture and the browser put the panels at the same place",
    async () => {
      const { page } = await watched(browser, { bypassCSP: true });
      await page.goto(`file://${file}`);
      let worst = 0;
      for (const [name, result] of Object.entries(measurements)) {
        const figure = figureOf(result);
        if (figure === null) continue;
        const { svg } = await drawPicture(figure, { scale: 1 });
        const mine = panelOf(svg);
        const theirs = panelOf(
          await page.evaluate(
            drawInPage,
            JSON.parse(JSON.stringify(figure)) as Drawn,
          ),
        );
        const difference = Math.max(
          ...mine.map((at, k) => Math.abs(at - theirs[k]!)),
        );
        worst = Math.max(worst, difference);
        // The browser has other fonts, so labels differ by some pixels.
        demand(difference < 30, `${name}: ${mine} against ${theirs}`);
      }
      console.log(`   largest difference ${worst.toFixed(1)} px`);
      await page.context().close();
    },
  );
}

interface Drawn {
  data: unknown[];
  layout: Record<string, unknown>;
}

/** Runs in the page: draws a figure there and gives its SVG. */
async function drawInPage({ data, layout }: Drawn): Promise<string> {
  const div = document.createElement("div");
  document.body.append(div);
  // deno-lint-ignore no-explicit-any
  const plotly = (globalThis as any).Plotly;
  const still = { ...layout };
  delete still.sliders;
  await plotly.newPlot(div, data, still, { staticPlot: true });
  const svg = await plotly.Snapshot.toSVG(div, "svg", 1);
  div.remove();
  return svg;
}

function figureOf(result: { figure(): unknown }): Figure | null {
  try {
    return result.figure() as Figure;
  } catch {
    return null;
  }
}

/** Left, top, width and height of the first panel in a drawn figure. */
function panelOf(svg: string): number[] {
  const found =
    /axesclip" id="clip\w+xy\d*"><rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"/
      .exec(svg);
  return (found ?? []).slice(1).map(Number);
}

async function labChecks(browser: Browser): Promise<void> {
  const script = await Deno.readTextFile(`${work}/lab/lab.js`);
  const render = async (page: Page, bundle: Bundle, trusted: boolean) =>
    await page.evaluate(
      ([bundle, trusted]) =>
        // deno-lint-ignore no-explicit-any
        (globalThis as any).renderOutput(bundle, trusted),
      [bundle, trusted] as const,
    ) as { type: string | null; html: string; width: number; active: number };
  const { page, complaints } = await watched(browser);
  await page.setContent(
    "<!DOCTYPE html><html lang='en'><title>Lab</title><body></body></html>",
  );
  await page.addScriptTag({ content: script });

  for (const trusted of [true, false]) {
    const how = trusted ? "trusted" : "untrusted";
    await check(
      `JupyterLab shows every ${how} output: picture, table, warnings`,
      async () => {
        for (const [name, outputs] of shown) {
          for (const bundle of outputs) {
            const { type, html, width } = await render(page, bundle, trusted);
            if ("image/png" in bundle) {
              demand(type === "text/html", `${name}: figure shown as ${type}`);
              demand(width >= 760, `${name}: picture ${width} pixels wide`);
              const kept = html.includes("data-fringebook-figure");
              demand(kept === trusted, `${name}: live ${how}: ${kept}`);
            } else {
              demand(type === "text/html", `${name}: report shown as ${type}`);
              demand(html.includes("<table"), `${name}: no table`);
            }
          }
        }
        const result = sampleResult("plain");
        const [, report] = await outputsOf(result);
        const { html } = await render(page, report!, trusted);
        for (const { code } of result.warnings) {
          demand(html.includes(`(${code})`), `warning ${code} is not shown`);
        }
      },
    );

    await check(
      `JupyterLab runs no script of 40 hostile ${how} reports`,
      async () => {
        for (let seed = 1; seed <= 40; seed++) {
          for (const bundle of await outputsOf(sampleResult(nasty(seed)))) {
            const { active } = await render(page, bundle, trusted);
            demand(active === 0, `seed ${seed}: ${active} active elements`);
          }
        }
      },
    );
  }
  await check(
    "JupyterLab shows a result of a foreign kernel with its picture inside",
    async () => {
      const bundle = await bundleOfValue(sampleResult("plain"));
      const { type, width } = await render(page, bundle, false);
      demand(type === "text/html", `shown as ${type}`);
      demand(width >= 760, `picture ${width} pixels wide`);
    },
  );
  await check(
    "JupyterLab shows the library as one line, and trusted makes figures live",
    async () => {
      const [, outputs] = shown[0]!;
      const figure = outputs.find((bundle) => "image/png" in bundle)!;
      const library = { "text/html": await libraryHtml() };
      await page.evaluate(() => document.body.replaceChildren());
      const still = await render(page, library, false);
      demand(
        /trust/.test(still.html),
        `untrusted: ${still.html.slice(0, 200)}`,
      );
      demand(still.active === 0, "a script is left");
      await render(page, figure, true);
      await render(page, library, true);
      await page.locator("figure.fringebook-figure .main-svg").first()
        .waitFor();
      await page.screenshot({ path: `${screenshots}/lab_live.png` });
    },
  );
  await check("JupyterLab had no complaint", () => {
    demand(complaints.length === 0, complaints.slice(0, 5).join("\n"));
    return Promise.resolve();
  });
  await page.screenshot({ path: `${screenshots}/lab.png` });
  await page.context().close();
}

/** The tutorials' pages that the tour left in `out/`, where it has run. */
async function tutorialChecks(browser: Browser): Promise<void> {
  const out = `${project}out`;
  const names = [...Deno.readDirSync(out)].map(({ name }) => name).sort();
  for (const name of names.filter((name) => name.endsWith(".ipynb"))) {
    await check(`${name} is below 3 MB, its figures below 300 kB`, async () => {
      const text = await Deno.readTextFile(`${out}/${name}`);
      demand(text.length < 3_000_000, `${text.length} bytes`);
      const { cells } = JSON.parse(text) as Notebook;
      for (const { outputs = [] } of cells) {
        for (const output of outputs) {
          if (!("data" in output)) continue;
          const data = output.data as Bundle;
          const bytes = JSON.stringify(data).length;
          demand(
            !("image/png" in data) || bytes < 300_000,
            `figure: ${bytes} bytes`,
          );
        }
      }
    });
  }
  const pages = names.filter((name) =>
    name.endsWith(".html") && names.includes(name.replace(".html", ".ipynb"))
  );
  for (const name of pages) {
    await check(`${name} opens from disk with all its figures`, async () => {
      const { page, complaints } = await watched(browser);
      await page.goto(`file://${out}/${name}`);
      const figures = page.locator("figure.fringebook-figure");
      for (let k = 0; k < await figures.count(); k++) {
        await figures.nth(k).scrollIntoViewIfNeeded();
        await figures.nth(k).locator(".main-svg").first().waitFor();
      }
      demand(complaints.length === 0, complaints.join("\n"));
      await page.evaluate(() => scrollTo(0, 0));
      await page.screenshot({
        path: `${screenshots}/${name.replace(".html", ".png")}`,
        fullPage: true,
      });
      await page.context().close();

      const still = await watched(browser, { javaScriptEnabled: false });
      await still.page.goto(`file://${out}/${name}`);
      const pictures = still.page.locator("figure.fringebook-figure img");
      for (let k = 0; k < await pictures.count(); k++) {
        const box = await pictures.nth(k).boundingBox();
        demand(box !== null && box.height > 100, `figure ${k + 1} is blank`);
      }
      demand(still.complaints.length === 0, still.complaints.join("\n"));
      await still.page.context().close();
    });
  }
}
