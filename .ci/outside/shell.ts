/**
 * The tasks as a person types them, on captures that are shipped and on those of
 * a stranger: `CH1` and `CH2`, volts, semicolons, decimal commas. Every template
 * runs in it, with the values that it holds and with those of the command line.
 *
 * Run: .ci/outside/shell.sh [part of a name…]
 *
 * @module
 */
import { join } from "@std/path";
import {
  createCell,
  runNotebook,
  writeNotebook,
} from "../../lib/notebook/mod.ts";
import { writeStrangers } from "../../tests/cli/stranger.ts";
import { afternoon } from "./shell/afternoon.ts";
import {
  exists,
  good,
  injected,
  light,
  project,
  readings,
  shipped,
  strange,
  strangersChannels,
  task,
  templates,
  work,
} from "./shell/typed.ts";
import { check, demand, fail, finish } from "./tally.ts";

const suite: Record<string, () => Promise<void>> = {
  "the template explore.ipynb runs with the values that it holds": async () => {
    await Deno.copyFile(shipped("distance-a.csv"), join(work, "capture.csv"));
    await runTemplate("explore.ipynb");
  },
  "the template new_calibration.ipynb runs with the values that it holds":
    async () => {
      for (const distance of ["060", "120", "200"]) {
        const name = `tuning-${distance}mm.csv`;
        await Deno.copyFile(shipped(name), join(work, name));
      }
      await Deno.writeTextFile(
        join(work, "readings.csv"),
        readings(",", "."),
      );
      await runTemplate("new_calibration.ipynb");
    },
  "the templates that there are run here": async () => {
    const names: string[] = [];
    for await (const { name } of Deno.readDir(templates)) names.push(name);
    const known = ["explore", "new_calibration", "summary"];
    // That of a course is run by the suite of the course's folder.
    demand(
      names.sort().join() ===
        ["course", ...known.map((name) => `${name}.ipynb`)].join(),
      `there are ${names.join(", ")}`,
    );
  },
  "measure and summary take a shipped capture and a stranger's": async () => {
    const output = join(work, "results.jsonl");
    await good(
      "measure",
      shipped("distance-a.csv"),
      ...[...light, "--monitor", "1", "--output", output],
    );
    await good(
      "measure",
      join(strange, "tuning-120mm.csv"),
      ...[...light, ...strangersChannels, "--output", output],
    );
    const said = await good("summary", output, "--output", join(work, "sums"));
    demand(said.includes("cells ran well"), said);
    // Once more: what a person wrote in the first notebook stays.
    await good("summary", output, "--output", join(work, "sums"));
    const folders = [...Deno.readDirSync(join(work, "sums"))];
    demand(folders.length === 2, `${folders.length} folders`);
  },
  "explore takes a stranger's capture, and makes no folder for what it cannot":
    async () => {
      const output = join(work, "explored");
      const path = join(strange, "tuning-120mm.csv");
      const given = [path, ...light, "--output", output];
      const wrong = await task("explore", ...given, "--monitor", "9");
      demand(wrong.code === 2, wrong.said);
      demand(!await exists(output), "a folder was left behind");
      await good("explore", ...given, ...strangersChannels, "--to", "50ms");
      const [folder] = [...Deno.readDirSync(output)];
      const source = await injected(
        join(output, folder!.name, `${folder!.name}.ipynb`),
      );
      demand(source.includes('"CH2":"drive voltage"'), source);
      demand(!source.includes("Uncertainty"), `more than was given: ${source}`);
    },
  "new-calibration takes a stranger's readings, keeps what the template states, and makes revisions":
    async () => {
      const output = join(work, "calibration");
      const given = [
        ...["--readings", join(strange, "readings.csv"), ...light],
        ...["--output", output, ...strangersChannels],
      ];
      await good("new-calibration", ...given);
      const source = await injected(join(output, "calibration.ipynb"));
      demand(!source.includes("Uncertainty"), `more than was given: ${source}`);
      const certificate = await Deno.readTextFile(
        join(output, "certificate-r1.html"),
      );
      // The template's 2 nm: twice that is the expanded uncertainty.
      demand(
        /650\.0 ± 4\.0|650 ± 4|650\.0\(2\.0\)/.test(certificate),
        certificate,
      );
      const again = await task("new-calibration", ...given);
      demand(again.code === 2 && again.said.includes("--reason"), again.said);
      await good("new-calibration", ...given, "--reason", "read once more");
      demand(await exists(join(output, "certificate-r2.html")), "no revision");
    },
  "new-calibration takes steps counted by hand, of a diode whose wavelength falls":
    async () => {
      const list = join(work, "by_hand.csv");
      const output = join(work, "by_hand");
      // The guide's page: a screen computed with 8 pm/mA.
      await Deno.writeTextFile(
        list,
        "distance (cm);standard uncertainty (mm);edges;first (mA);last (mA);standard uncertainty of current (µA)\r\n" +
          "6,0;0,2;5;39,21;40,80;12\r\n12,0;0,2;9;39,15;40,82;12\r\n20,0;0,2;15;39,11;40,90;12\r\n",
      );
      const given = ["--readings", list, ...light, "--output", output];
      const refused = await task("new-calibration", ...given);
      demand(
        refused.code === 2 && refused.said.includes("--drive-span"),
        refused.said,
      );
      demand(!await exists(output), "a folder was made for what is refused");
      await good(
        "new-calibration",
        ...[...given, "--wavelength-gets", "shorter"],
        ...["--drive-waveform", "triangle", "--drive-frequency", "10Hz"],
        ...["--drive-span", "39mA..41mA"],
      );
      const [record] = [...Deno.readDirSync(join(output, "records"))];
      const { values, circumstances } = JSON.parse(
        await Deno.readTextFile(join(output, "records", record!.name)),
      );
      const { value, standardUncertainty } = values.tuning;
      demand(
        Math.abs(value + 8e-9) < 2 * standardUncertainty,
        `the tuning is ${value} m/A`,
      );
      demand(circumstances.method.includes("by hand"), circumstances.method);
      const certificate = await Deno.readTextFile(
        join(output, "certificate-r1.html"),
      );
      demand(certificate.includes("counted by hand"), certificate);
    },
  ...afternoon,
  "run takes a notebook, and says where it fails": async () => {
    const path = join(work, "run.ipynb");
    const cell = (source: string) => ({
      cell_type: "code",
      id: "a",
      metadata: {},
      outputs: [],
      execution_count: null,
      source: [source],
    });
    const notebook = { nbformat: 4, nbformat_minor: 5, metadata: {} };
    const write = (source: string) =>
      Deno.writeTextFile(
        path,
        JSON.stringify({ ...notebook, cells: [cell(source)] }),
      );
    await write("20 + 1");
    await good("run", path, "--quiet");
    await write("checkCapture(5)");
    const { code, said } = await task("run", path, "--quiet");
    demand(code === 1 && said.includes('from "fringebook"'), said);
  },
  "the tour does not touch out/ for a name that is none": async () => {
    const index = join(project, "out", "index.html");
    const before = await Deno.stat(index).catch(() => null);
    for (const given of [["--help"], ["07_tunning"], ["--hlep"]]) {
      await task("tour", ...given);
    }
    const after = await Deno.stat(index).catch(() => null);
    demand(
      before?.mtime?.getTime() === after?.mtime?.getTime(),
      "out/index.html was written",
    );
  },
  "the tour of one notebook agrees with the truth": async () => {
    const said = await good("tour", "00_safety");
    demand(said.includes("00_safety") && !said.includes("07_"), said);
  },
  "api writes the reference, by task and by door": async () => {
    await good("api");
    for (const name of ["tasks.html", "index.html"]) {
      const page = await Deno.readTextFile(join(project, "out", "api", name));
      demand(page.includes("checkCapture"), `${name} lacks a name`);
    }
  },
  "every task ends with a sentence where it is called wrongly": async () => {
    const wrong: [string, ...string[]][] = [
      ["measure", "none.csv", ...light],
      ["explore", "none.csv", ...light],
      ["new-calibration", "--readings", "none.csv", ...light],
      ["summary", "none.jsonl"],
      ["run", "none.ipynb"],
      ["tour", "nowhere"],
      ["kernel", "--nowhere"],
      ["datasets", "--nowhere"],
      ["handout", "--students"],
      ["handout", "no_such_course", "--students", "Ada"],
      ["mark", "none"],
      ["mark", "none", "--key", "none.json"],
      ["api", "--nowhere"],
      ["level", "none.csv"],
      ["level", "--present", "none.csv"],
      ["chart", "none.csv"],
      ["chart"],
      ["measure", "none.csv", ...light, "--drive-corner", "find"],
      ["worksheet", "more"],
      ["drawings", "more"],
    ];
    for (const given of wrong) {
      const { code, said } = await task(...given);
      demand(code !== 0, `${given.join(" ")} ended well:\n${said}`);
    }
  },
  "level finds when a card was there, and how far away one stands":
    async () => {
      const said = await good(
        "level",
        ...[shipped("level-visits.csv"), shipped("level-card-rests.csv")],
        ...["--monitor", "CH1", "--empty", shipped("level-empty.csv")],
        ...["--sweep", shipped("level-card.csv"), "--repeatability", "10.6nA"],
        ...["--sweep-from", "6mm", "--sweep-to", "80mm"],
        ...["--within", "18mm..80mm"],
      );
      demand(/stays +3\n/.test(said), said);
      demand(/distance by the level +\(\d/.test(said), said);
    },
  "chart says by its exit code whether a check is in control": async () => {
    const table = (last: string) =>
      "date,value (mm)\n" +
      ["120.01", "119.98", "120.02", "120.00", "119.99", last]
        .map((value, day) => `2026-11-0${day + 1},${value}`).join("\n");
    const path = join(work, "check.csv");
    await Deno.writeTextFile(path, table("120.01"));
    await good("chart", path);
    await Deno.writeTextFile(path, table("121"));
    const { code, said } = await task("chart", path, "--baseline", "5");
    demand(code === 1 && said.includes("out of control"), said);
  },
  "the table of the guide's page on saving is written as CSV": runTableCell,
  "the datasets are simulated to the same bytes": async () => {
    const name = shipped("distance-a.csv");
    const before = await Deno.readTextFile(name);
    await good("datasets");
    demand(before === await Deno.readTextFile(name), "the bytes differ");
  },
};

/** The cell of the guide's page that writes a table, behind one that measures. */
async function runTableCell(): Promise<void> {
  const page = await Deno.readTextFile(
    join(project, "notebooks", "guide", "save.md"),
  );
  const cell = /```text\n([^`]*toCSV[^`]*)```/.exec(page)?.[1];
  demand(cell !== undefined, "the page has no such cell");
  const path = join(work, "table.ipynb");
  await writeNotebook(path, {
    nbformat: 4,
    nbformat_minor: 5,
    metadata: {},
    cells: [
      createCell(
        "code",
        `import { loadDataset, measureVibration } from "fringebook";
const vibration = measureVibration(await loadDataset("vibration"), { wavelength: 785e-9 });
await Deno.mkdir("out", { recursive: true });`,
      ),
      createCell("code", cell),
    ],
  });
  const { status, summary } = await runNotebook(path);
  demand(status === "ok", summary);
  const csv = await Deno.readTextFile(join(work, "out", "vibration.csv"));
  const [head, ...rows] = csv.trim().split("\n");
  demand(/name|label|order/.test(head!) && rows.length > 2, csv.slice(0, 300));
  console.log(head);
}

async function runTemplate(name: string): Promise<void> {
  const path = join(work, name);
  await Deno.copyFile(join(templates, name), path);
  const { status, summary } = await runNotebook(path);
  demand(status === "ok", summary);
}

try {
  await Deno.mkdir(strange);
  await writeStrangers(
    strange,
    ["tuning-060mm", "tuning-120mm", "tuning-200mm"],
  );
  await Deno.writeTextFile(join(strange, "readings.csv"), readings(";", ","));
  for (const [title, body] of Object.entries(suite)) {
    if (Deno.args.every((part) => title.includes(part))) {
      await check(title, body);
    }
  }
} catch (error) {
  fail(String(error));
} finally {
  await Deno.remove(work, { recursive: true });
}
finish();
