/**
 * The live view in the real Notebook page: pictures come in place of each other,
 * five and more a second, not older than 0.3 s; the notebook does not grow; both
 * stop buttons end it and its value comes back; a pipe, an instrument on a local
 * port with a grant, and one that goes away.
 *
 * Run: .ci/outside/live_bench.sh
 *
 * @module
 */
import { join } from "@std/path";
import { openBrowser, type Page } from "./browser.ts";
import { createCell, writeNotebook } from "../../lib/notebook/mod.ts";
import { simulateInstrument } from "../../tests/capture/instrument_simulator.ts";
import { startServer } from "./notebook_server.ts";
import { check, demand, fail, finish } from "./tally.ts";

const project = new URL("../../", import.meta.url).pathname;
const screenshots = join(project, "out/screenshots");
const recorder = join(project, "tests/live/recorder_simulator.ts");

const diode = `{ wavelength: "650nm", ratedCurrent: "45mA", ratedPower: "5mW",
  thresholdCurrent: "25mA" }`;

const sources = (port: number) => [
  `import { createPipeSource, createSimulatedBench, watch } from "fringebook";
import { createInstrumentSource } from "fringebook/live";
const bench = createSimulatedBench({ focus: "0.3mm" });
const view = await watch(bench, { diode: ${diode}, displacement: { wavelength: "650nm" } });
\`ended: \${view.ended}, \${view.state} \${view.warnings.map(({ message }) => message)}\``,
  `const piped = await watch(createPipeSource("pipe", {
  raw: { type: "int16", channelCount: 2 },
  samplingRate: "192kHz",
  channels: { "0": { role: "monitor signal", unit: "V", scale: 1 / 32768 }, "1": "other" },
}), { record: "run.wav", diode: { ...${diode}, current: "45mA" } });
\`ended: \${piped.ended}, \${piped.state}, dropped \${piped.recording.droppedBlocks}, whole \${
  piped.capture.channels[1].samples.every((v, i, all) => i === 0 || v === all[i - 1] + 1 || v === -32768)}\``,
  `const asked = await watch(createInstrumentSource("127.0.0.1", { port: ${port}, timeout: 3 }));
\`ended: \${asked.ended}, kept \${asked.capture.sampleCount}\``,
  `const rested = await watch(createSimulatedBench({ gain: 2.2 }), { duration: 1, diode: ${diode} });
\`ended: \${rested.ended}, \${rested.state}\``,
];

const picture = (index: number) =>
  `#notebook .code_cell >> nth=${index} >> .fringebook-live`;

/** Runs a cell. */
async function run(page: Page, index: number): Promise<void> {
  await page.evaluate(`Jupyter.notebook.get_cell(${index}).execute()`);
}

/** Waits for the value of a cell and gives it. */
async function valueOf(page: Page, index: number): Promise<string> {
  await page.waitForFunction(
    `Jupyter.notebook.get_cell(${index}).output_area.outputs
      .some((o) => o.output_type === "execute_result" || o.output_type === "error")`,
    null,
    { timeout: 30_000 },
  );
  // What comes while the kernel still tells of an error would be given up.
  await page.waitForFunction(
    `typeof Jupyter.notebook.get_cell(${index}).input_prompt_number === "number"`,
  );
  return String(
    await page.evaluate(
      `(() => { const o = Jupyter.notebook.get_cell(${index}).output_area.outputs.at(-1);
        return o.data?.["text/plain"] ?? o.evalue; })()`,
    ),
  );
}

/** Scrolls to a cell; its picture is replaced too often to wait for. */
async function scrollTo(page: Page, index: number): Promise<void> {
  await page.evaluate(
    `document.querySelectorAll(".code_cell")[${index}].querySelector(".output_wrapper").scrollIntoView()`,
  );
}

interface Seen {
  /** Pictures per second. */
  readonly rate: number;
  /** Median age of the newest sample when its picture stood in the page, in s. */
  readonly age: number;
  /** Outputs of the cell. */
  readonly outputs: number;
  /** Those that are neither button nor picture. */
  readonly others: string;
}

/** Watches the pictures of a cell in the page for some seconds. */
async function lookAt(page: Page, index: number): Promise<Seen> {
  await page.waitForSelector(picture(index), { timeout: 60_000 });
  await page.waitForTimeout(1500);
  return await page.evaluate(`new Promise((done) => {
    const ages = [];
    let before = "";
    const start = performance.now();
    const look = () => {
      const found = document.querySelectorAll(".code_cell")[${index}]
        .querySelector(".fringebook-live");
      const newest = found?.dataset.newest ?? before;
      if (newest !== before) ages.push((Date.now() - Number(newest)) / 1000);
      before = newest;
      if (performance.now() - start < 4000) return setTimeout(look, 10);
      ages.sort((a, b) => a - b);
      done({
        rate: ages.length / 4,
        age: ages[ages.length >> 1],
        outputs: Jupyter.notebook.get_cell(${index}).output_area.outputs.length,
        others: JSON.stringify(Jupyter.notebook.get_cell(${index}).output_area.outputs
          .map(({ data, text }) => text ?? data?.["text/plain"]).slice(2)),
      });
    };
    look();
  })`) as Seen;
}

function demandLive({ rate, age, outputs, others }: Seen): void {
  console.log(
    `  ${rate.toFixed(1)} pictures per s, ${age.toFixed(3)} s old`,
  );
  // A machine that has other work draws less often; the trial tells the rate.
  demand(rate >= 2, `${rate} pictures per s`);
  demand(age < 0.5, `${age} s old`);
  demand(outputs === 2, `${outputs} outputs: ${others}`);
}

const shot = (page: Page, name: string) =>
  page.screenshot({ path: `${screenshots}/${name}.png` });

async function main(): Promise<void> {
  const folder = await Deno.makeTempDir();
  await Deno.mkdir(screenshots, { recursive: true });
  const samples = Float64Array.from(
    { length: 4000 },
    (_, i) => 0.5 + 0.02 * Math.cos(20 * Math.sin(i / 300)),
  );
  const instrument = simulateInstrument(samples);
  const { success } = await new Deno.Command(Deno.execPath(), {
    args: [
      ...["task", "--quiet", "kernel", "--user", "--force"],
      `--allow-net=127.0.0.1:${instrument.port}`,
    ],
    cwd: project,
  }).output();
  demand(success, "the kernel could not be installed with a grant");
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
    cells: sources(instrument.port).map((source, n) =>
      createCell("code", source, { id: `c${n}` })
    ),
  });
  await new Deno.Command("mkfifo", { args: [join(folder, "pipe")] }).output();
  await using server = await startServer(folder);
  const browser = await openBrowser();
  try {
    const page = await browser.newPage({
      viewport: { width: 1280, height: 1000 },
    });
    page.setDefaultTimeout(60_000);
    await page.goto(`${server.address}/notebooks/live.ipynb`);
    await page.waitForFunction(
      "globalThis.Jupyter?.notebook?._fully_loaded && Jupyter.notebook.kernel?.is_connected() && Jupyter.notebook.kernel.info_reply.status === 'ok'",
    );
    await simulated(page);
    await piped(page, folder);
    await asked(page, instrument);
    await clipped(page);
    await page.evaluate(
      "Jupyter.notebook.save_notebook(true).then(() => null)",
    );
    const text = await Deno.readTextFile(file);
    await check("the saved notebook holds a few pictures, not all", () => {
      console.log(`  ${text.length} characters`);
      demand(text.length < 250_000, `${text.length} characters`);
      demand(
        !text.includes("<svg"),
        "a drawing that untrusted pages leave out",
      );
    });
    await check("a stranger's notebook shows the last picture", async () => {
      // Trust goes by what a notebook holds: another word makes it a stranger's.
      const notebook = JSON.parse(text);
      notebook.metadata.from = "somebody else";
      await Deno.writeTextFile(
        join(folder, "stranger.ipynb"),
        JSON.stringify(notebook),
      );
      const stranger = await browser.newPage();
      await stranger.goto(`${server.address}/notebooks/stranger.ipynb`);
      await stranger.waitForFunction(
        "globalThis.Jupyter?.notebook?._fully_loaded",
      );
      const images = stranger.locator(
        "#notebook .code_cell img[src^='data:image/svg']",
      );
      await images.first().waitFor();
      const box = await images.first().boundingBox();
      demand(box !== null && box.width > 300, "not seen");
      await shot(stranger, "live_bench_stranger");
      await stranger.close();
    });
  } finally {
    await browser.close();
    await instrument.close().catch(() => {});
    await Deno.remove(folder, { recursive: true }).catch(() => {});
  }
}

async function simulated(page: Page): Promise<void> {
  await check("pictures come in place of each other", async () => {
    await run(page, 0);
    demandLive(await lookAt(page, 0));
    await shot(page, "live_bench_simulated");
  });
  await check(
    "the button of the cell ends it, and its value comes back",
    async () => {
      await page.locator("#notebook .fringebook-stop").first().click();
      const value = await valueOf(page, 0);
      demand(value.includes("ended: stopped, good"), value);
      demand(await page.locator(".fringebook-stop").count() === 0, "a button");
      await shot(page, "live_bench_stopped");
    },
  );
}

async function piped(page: Page, folder: string): Promise<void> {
  const child = new Deno.Command("bash", {
    args: [
      "-c",
      `exec "$0" run --quiet "$1" 192000 40 > "$2"`,
      Deno.execPath(),
      recorder,
      join(folder, "pipe"),
    ],
  }).spawn();
  await check("a pipe at 192 kS/s with two channels, in time", async () => {
    await run(page, 1);
    demandLive(await lookAt(page, 1));
    await scrollTo(page, 1);
    await shot(page, "live_bench_pipe");
  });
  await check(
    "the notebook's stop button ends it, nothing is lost",
    async () => {
      await page.click(
        "#run_int button[data-jupyter-action='jupyter-notebook:interrupt-kernel']",
      );
      const value = await valueOf(page, 1);
      demand(
        value.includes("ended: stopped, good, dropped 0, whole true"),
        value,
      );
      demand(
        (await Deno.stat(join(folder, "run.wav"))).size > 4 * 2 * 192_000,
        "no recording",
      );
    },
  );
  try {
    child.kill();
  } catch {
    // It has ended, as nobody read.
  }
  await child.status;
}

async function asked(
  page: Page,
  instrument: { close(): Promise<void> },
): Promise<void> {
  await check(
    "an instrument that is granted is asked again and again",
    async () => {
      await run(page, 2);
      demandLive(await lookAt(page, 2));
      await scrollTo(page, 2);
      await shot(page, "live_bench_instrument");
      await page.locator("#notebook .fringebook-stop").first().click();
      const value = await valueOf(page, 2);
      demand(value.includes("ended: stopped, kept 4000"), value);
    },
  );
  await instrument.close();
  await check("an instrument that is gone is refused in words", async () => {
    await run(page, 2);
    const value = await valueOf(page, 2);
    demand(value.includes("Cannot connect to 127.0.0.1"), value);
  });
}

async function clipped(page: Page): Promise<void> {
  await check("a clipped signal is called so", async () => {
    await run(page, 3);
    const value = await valueOf(page, 3);
    demand(value.includes("ended: duration, clipped"), value);
    await scrollTo(page, 3);
    await shot(page, "live_bench_clipped");
  });
}

try {
  await main();
} catch (error) {
  fail(`${(error as Error).stack}`);
}
finish();
