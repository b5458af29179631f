/**
 * The tasks as a person types them, on captures that are shipped and on those of
 * a stranger: `CH1` and `CH2`, volts, semicolons, decimal commas. Every template
 * runs in it, with the values that it holds and with those of the command line.
 *
 * Run: .ci/outside/shell.sh [part of a name…]
 *
 * @module
 */
import { basename, join } from "@std/path";
import {
  createCell,
  runNotebook,
  writeNotebook,
} from "../../lib/notebook/mod.ts";
import { datasetTruth } from "../../lib/datasets/mod.ts";
import { writeStrangers } from "../../tests/cli/stranger.ts";
import { check, demand, fail, finish } from "./tally.ts";

const project = new URL("../../", import.meta.url).pathname;
const templates = join(project, "notebooks", "templates");
const shipped = (name: string) => join(project, "datasets", name);
const light = ["--wavelength", "650nm"];
const strangersChannels = [
  ...["--monitor", "1", "--drive", "CH2"],
  ...["--current-per-voltage", "10mA/V"],
];

const work = await Deno.makeTempDir();
const strange = join(work, "strange");
const readings = (separator: string, comma: string) =>
  [
    ["file", "distance (mm)", "standard uncertainty (mm)"],
    ...["060", "120", "200"].map((distance) => [
      `tuning-${distance}mm.csv`,
      `${Number(distance)}${comma}0`,
      `0${comma}2`,
    ]),
  ].map((row) => row.join(separator)).join("\n") + "\n";

/** Runs `deno task NAME …` in a folder of its own, and what it said. */
async function task(name: string, ...given: string[]) {
  const { code, stdout, stderr } = await new Deno.Command(Deno.execPath(), {
    args: ["task", "--config", join(project, "deno.json"), name, ...given],
    cwd: work,
    env: { NO_COLOR: "1" },
  }).output();
  const decoder = new TextDecoder();
  const said = decoder.decode(stdout) + decoder.decode(stderr);
  demand(!/^\s+at .+:\d+:\d+\)?$/m.test(said), `a stack is shown:\n${said}`);
  return { code, said };
}

/** The same, and it must end well. */
async function good(name: string, ...given: string[]): Promise<string> {
  const { code, said } = await task(name, ...given);
  demand(code === 0, `exit code ${code}:\n${said}`);
  return said;
}

/** What `measure` reports of a shipped capture, as its JSON lines hold it. */
interface Reported {
  readonly headlines: readonly {
    readonly label: string;
    readonly value: number;
    readonly standardUncertainty: number;
    readonly coverageFactor?: number;
  }[];
  readonly rows: readonly {
    readonly label: string;
    readonly text: string;
    readonly value?: number | string;
    readonly standardUncertainty?: number;
  }[];
}

/** Measures shipped captures in one call, by name. */
async function measured(
  flags: readonly string[],
  ...names: string[]
): Promise<Map<string, Reported[]>> {
  const output = join(work, `${names.join("+")}.jsonl`);
  const files = names.map((name) => shipped(`${name}.csv`));
  await good("measure", ...files, ...flags, "--output", output);
  const lines = (await Deno.readTextFile(output)).trim().split("\n");
  return new Map(lines.map((line) => {
    const { file, reports } = JSON.parse(line) as {
      file: string;
      reports: Reported[];
    };
    return [basename(file, ".csv"), reports];
  }));
}

/** The code cell that a run put behind the parameters of a note. */
async function injected(path: string): Promise<string> {
  const { cells } = JSON.parse(await Deno.readTextFile(path)) as {
    cells: { metadata: { tags?: string[] }; source: string[] }[];
  };
  const cell = cells.find(({ metadata }) =>
    metadata.tags?.includes("set-by-run")
  );
  return cell?.source.join("") ?? "";
}

function exists(path: string): Promise<boolean> {
  return Deno.stat(path).then(() => true, () => false);
}

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
  "the whole afternoon runs on files that name CH1 and CH2, in volts":
    async () => {
      const infrared = ["--wavelength", "785nm", "--wavelength-uncertainty"]
        .concat("1.5nm", "--monitor", "CH1");
      const red = ["--wavelength", "650nm", "--wavelength-uncertainty", "2nm"]
        .concat("--monitor", "CH1");
      const calibrated = ["--tuning", "8.29pm/mA"]
        .concat("--tuning-uncertainty", "0.03pm/mA");
      const found = new Map([
        ...await measured(
          infrared,
          ...["speaker-small", "speaker-large", "speaker-fast"],
          "speaker-draught",
        ),
        ...await measured(infrared, "speaker-lopsided", "speaker-soft"),
        ...await measured([...infrared, "--as", "motion"], "speaker-square"),
        ...await measured(
          ["--wavelength", "650nm", "--wavelength-uncertainty", "2nm"]
            .concat("--junction", "CH1"),
          "junction",
        ),
        ...await measured(red, "tap", "taps"),
        ...await measured(
          [...red, "--angle", "78deg", "--angle-uncertainty", "0.3deg"],
          ...["motor-away", "motor-back"],
        ),
        ...await measured(
          [
            ...[...red, "--drive", "CH2", "--current-per-voltage", "2.06mA/V"],
            ...["--current-offset", "40mA", "--tuning", "8.26pm/mA"],
            ...["--tuning-uncertainty", "0.065pm/mA"],
          ],
          ...["sine-far", "sine-near"],
        ),
        ...await measured(
          [...red, "--angle", "78deg", "--angle-uncertainty", "0.3deg"],
          ...["motor-turns", "motor-stops", "motor-eccentric"],
        ),
        ...await measured(
          [...red, "--angle", "78deg", "--angle-uncertainty", "0.3deg"]
            .concat("--as", "speed"),
          "motor-belt",
        ),
        ...await measured(
          [
            ...[...red, "--drive", "CH2", "--current-per-voltage", "2.06mA/V"],
            ...["--current-offset", "40mA", ...calibrated, "--targets"],
          ],
          ...["two-targets", "two-targets-close"],
        ),
        ...await measured(
          [
            ...[...red, "--drive", "CH2", ...calibrated],
            ...["--current-curve", shipped("voltage-drive-curve.csv")],
          ],
          "voltage-drive",
        ),
        ...await measured(
          [
            ...[...red, "--drive", "CH2", ...calibrated],
            ...["--current-per-voltage", "5mA/V", "--current-offset", "40mA"],
            ...["--drive-corner", "find"],
          ],
          "capacitor-drive",
        ),
      ]);
      const holds = (name: string, label: string, truth: number) => {
        const { value, standardUncertainty: u, coverageFactor: k } = found
          .get(name)!.flatMap(({ headlines }) => headlines)
          .find((each) => each.label === label)!;
        // One seeded case each, thirty values in all: one in twenty lies outside of
        // its 95 % interval, so that 99.7 % is asked.
        const reach = 1.5 * (k ?? 2) * u;
        demand(
          Math.abs(value - truth) <= reach,
          `${name}: ${label} is ${value} ± ${reach}, and ${truth}`,
        );
      };
      const truth = (name: string, key: string) =>
        datasetTruth(name)[key]!.value;
      const rowOf = (name: string, label: string) => {
        const row = found.get(name)!.flatMap(({ rows }) => rows)
          .find((each) => each.label === label);
        demand(row !== undefined, `${name} has no row '${label}'`);
        return row;
      };
      const textOf = (name: string, label: string) => rowOf(name, label).text;
      const says = (name: string, label: string, key: string) => {
        const { value, standardUncertainty: u } = rowOf(name, label);
        demand(
          Math.abs(Number(value) - truth(name, key)) <= 3 * u!,
          `${name}: ${label} is ${value} ± ${3 * u!}, and ${truth(name, key)}`,
        );
      };
      for (const name of ["small", "large", "fast", "draught"]) {
        for (const key of ["amplitude", "frequency"]) {
          holds(`speaker-${name}`, key, truth(`speaker-${name}`, key));
        }
      }
      for (
        const name of ["speaker-lopsided", "speaker-soft", "speaker-square"]
      ) {
        holds(name, "peak to peak", truth(name, "peakToPeak"));
      }
      for (const key of ["amplitude", "frequency"]) {
        holds("junction", key, truth("junction", key));
      }
      holds(
        "tap",
        "natural frequency",
        truth("tap", "frequency") /
          Math.sqrt(1 - truth("tap", "dampingRatio") ** 2),
      );
      holds("taps", "natural frequency", truth("taps", "naturalFrequency"));
      holds("taps", "quality factor", 0.5 / truth("taps", "dampingRatio"));
      for (
        const [name, way] of [
          ["motor-away", "receding"],
          ["motor-back", "approaching"],
        ] as const
      ) {
        holds(name, "speed", truth(name, "speed"));
        const said = found.get(name)!.flatMap(({ rows }) => rows)
          .find(({ label }) => label === "direction along the beam")!.text;
        demand(said === way, `${name}: it is said to be ${said}`);
      }
      for (const name of ["sine-far", "sine-near"]) {
        holds(name, "distance", truth(name, "opticalDistance"));
      }
      for (const name of ["voltage-drive", "capacitor-drive"]) {
        holds(name, "distance", truth(name, "distance"));
      }
      for (const name of ["motor-turns", "motor-stops"]) {
        holds(name, "highest speed", truth(name, "highestSpeed"));
      }
      says("motor-turns", "turns round 1, at", "turningTime");
      says("motor-stops", "stands still 1, from", "stopTime");
      says("motor-stops", "stands still 1, until", "startTime");
      says("motor-eccentric", "comes back at even times, at", "rotationRate");
      says("motor-belt", "second speed beside it", "secondSpeed");
      // What two targets on one ramp are told apart by, and where not.
      holds(
        "two-targets",
        "distance of target 1",
        truth("two-targets", "plateDistance"),
      );
      holds(
        "two-targets",
        "distance of target 2",
        truth("two-targets", "cardDistance"),
      );
      const close = textOf("two-targets-close", "finding");
      demand(/within|apart|closer/.test(close), close);
      const hard = await task(
        "measure",
        ...[shipped("speaker-hard.csv"), ...infrared],
      );
      demand(
        hard.code === 1 && hard.said.includes("softer edges"),
        `edges that no fringe follows: ${hard.said}`,
      );
      const level = await good(
        "level",
        shipped("level-visits.csv"),
        ...["--monitor", "CH1", "--empty", shipped("level-empty.csv")],
      );
      demand(/stays\s+3\b/.test(level), level);
      const page = join(work, "worksheet.html");
      await good("worksheet", "--output", page);
      demand(await exists(page), "no worksheet");
    },
  "a calibration at three temperatures measures at a fourth": async () => {
    const given = [
      ...["--wavelength", "650nm", "--wavelength-uncertainty", "2nm"],
      ...["--monitor", "CH1", "--drive", "CH2"],
      ...["--current-per-voltage", "2.06mA/V", "--current-offset", "40mA"],
    ];
    const records = await Promise.all(["15", "25", "35"].map(async (each) => {
      const output = join(work, `at-${each}`);
      await good(
        "new-calibration",
        ...["--readings", shipped(`warm-${each}c.csv`), ...given],
        ...["--temperature", each, "--output", output],
      );
      const [record] = [...Deno.readDirSync(join(output, "records"))];
      return join(output, "records", record!.name);
    }));
    // The tuning has changed from the first temperature on: exit code 1.
    const { code, said } = await task(
      "chart",
      ...[...records, "--temperature", "30°C"],
    );
    demand(code === 1, said);
    const [, value, u] =
      /--tuning ([\d.]+pm\/mA) --tuning-uncertainty ([\d.]+pm\/mA)/.exec(said)!;
    const found = await measured(
      [...given, "--tuning", value!, "--tuning-uncertainty", u!],
      "warm-30c",
    );
    const { distance, zeroOffset } = datasetTruth("warm-30c");
    const measuredAt = found.get("warm-30c")!
      .flatMap(({ headlines }) => headlines)
      .find(({ label }) => label === "distance")!;
    const truth = distance!.value + zeroOffset!.value;
    demand(
      Math.abs(measuredAt.value - truth) < 3 * measuredAt.standardUncertainty,
      `the distance at 30 °C is ${measuredAt.value}, and ${truth}`,
    );
  },
  "chart shows the day on which the lens was cleaned, and runs of one loudspeaker":
    async () => {
      const days = await task(
        "chart",
        ...[shipped("check-distance.csv"), "--reference", "120mm"],
      );
      demand(
        days.code === 1 && /2026-10-2[4-7]/.test(days.said),
        `no day is named: ${days.said}`,
      );
      const output = join(work, "runs.jsonl");
      await good(
        "measure",
        ...["small", "large"].map((each) => shipped(`speaker-${each}.csv`)),
        ...["--wavelength", "785nm", "--monitor", "CH1", "--output", output],
      );
      const runs = await task("chart", output, "--quantity", "amplitude");
      demand(
        runs.code === 1 && /1\.9\d+/.test(runs.said),
        `the change is not named: ${runs.said}`,
      );
    },
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
