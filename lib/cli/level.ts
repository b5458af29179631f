/**
 * `deno task level FILE …`: the level of the monitor current, the distance that it
 * means, and when something was there.
 *
 * Exit codes: 0 all measured, 1 some failed, 2 wrong arguments.
 *
 * @module
 */
import { dirname, join } from "@std/path";
import type { Capture } from "../capture/mod.ts";
import { printReport } from "../display/mod.ts";
import {
  calibrateLevel,
  calibratePresence,
  findPresence,
  type LevelCalibration,
  levelsOfSweep,
  measureLevel,
} from "../level/mod.ts";
import { optional, optionOf } from "../options/mod.ts";
import { readReferenceReadings } from "../record/mod.ts";
import type { Result, Shown } from "../result/mod.ts";
import {
  captureTask,
  channelFlags,
  readAsAsked,
  readingFlags,
} from "./capture/mod.ts";
import {
  errorInWords,
  type Flag,
  flagHelp,
  flagOf,
  loneFlag,
  readFlags,
  runTask,
  type Task,
  textFlag,
  UsageError,
} from "./task/mod.ts";

const place = (doc: string) =>
  flagOf(optionOf.between(doc, 0, 100, "m", "30mm"), { whenMissing: "" });

const flags = {
  "readings": textFlag(
    "Table with the columns file, distance (mm), standard uncertainty (mm), of captures at known distances beside it: the curve.",
    "FILE",
    "",
  ),
  "sweep": textFlag(
    "Capture of one slow, even sweep of the target: the curve.",
    "FILE",
    "",
  ),
  "sweep-from": place("Distance at its first sample."),
  "sweep-to": place("Distance at its last sample."),
  "sweep-uncertainty": flagOf(
    optional(
      optionOf.lengthUncertainty(
        "Standard uncertainty of a distance on the way.",
        "0.5mm",
      ),
      0,
      "0, the value is taken as exact",
    ),
  ),
  "repeatability": flagOf(
    optional(
      optionOf.notNegative(
        "Standard deviation with which the level comes back at one distance.",
        "A",
        "10nA",
      ),
      null,
      "from the scatter of the points about the curve",
    ),
  ),
  "within": withinFlag(),
  "empty": textFlag(
    "Capture with nothing there: the threshold for presence.",
    "FILE",
    "",
  ),
  "present": textFlag(
    "Capture with the target there: which way the level goes.",
    "FILE",
    "",
  ),
  "averaging-time": flagOf(
    optional(
      optionOf.time("Time over which the level is averaged.", "20ms"),
      0.02,
      "20 ms, one period of 50 Hz",
    ),
  ),
  "false-alarm-interval": flagOf(
    optional(
      optionOf.time("Mean time between two false alarms.", "3600s"),
      3600,
    ),
  ),
  "hysteresis": flagOf(
    optional(
      optionOf.between(
        "Where presence ends: part of the way to the threshold.",
        0,
        1,
        "1",
        "0.5",
      ),
      0.5,
    ),
  ),
  "transimpedance": flagOf(
    optional(
      optionOf.finite(
        "Transimpedance of the monitor's amplifier, negative if it inverts.",
        "V/A",
        "100kV/A",
      ),
      100e3,
      "100 kV/A",
    ),
  ),
  "monitor": channelFlags.monitor,
  ...readingFlags,
  "json": loneFlag("One JSON line per report."),
} as const;

const what = "measure a level";

/** The task. */
export const task: Task = {
  name: "level",
  help: `deno task level FILE … [options]

The level of the monitor current of each capture; with a curve (--readings or
--sweep) the distance that it means, and with an empty bench (--empty) when
something was there. The recorder must be coupled with DC.

${flagHelp(flags)}

Exit codes: 0 all measured, 1 some failed, 2 wrong arguments.`,
  run: level,
};

async function level(given: readonly string[]): Promise<number> {
  const { values, rest } = readFlags(flags, given, { task: what });
  const { transimpedance } = values;
  const gain = transimpedance === undefined ? {} : { transimpedance };
  const asked = captureTask(values, what);
  // The window is that of the measured captures.
  const whole = { ...asked, window: {} };
  const print = (result: Result & Shown) =>
    console.log(
      values.json === true
        ? JSON.stringify(JSON.parse(printReport(result, { format: "json" })))
        : printReport(result),
    );
  const curve = await curveOf(values, (file) => readAsAsked(file, whole), gain);
  const emptyFile = values.empty;
  const empty = emptyFile === undefined
    ? null
    : await readAsAsked(emptyFile, whole);
  if (empty === null && values.present !== undefined) {
    throw new UsageError(
      `Cannot ${what} as '--present' is given without '--empty': the threshold comes from the noise with nothing there`,
    );
  }
  if (rest.length === 0 && curve === null && empty === null) {
    throw new UsageError(`Cannot ${what} as no capture file was given`);
  }
  const threshold = empty === null ? null : calibratePresence(empty, {
    ...gain,
    ...stated({
      averagingTime: values["averaging-time"],
      falseAlarmInterval: values["false-alarm-interval"],
      hysteresis: values.hysteresis,
    }),
    ...(values.present === undefined
      ? {}
      : { present: await readAsAsked(values.present, whole) }),
  });
  if (curve !== null) print(curve);
  if (threshold !== null) print(threshold);
  let failed = 0;
  for (const file of rest) {
    if (values.json !== true) console.log(`\n== ${file}\n`);
    try {
      const capture = await readAsAsked(file, asked);
      print(measureLevel(capture, {
        ...gain,
        calibration: curve,
        within: values.within ?? null,
      }));
      if (threshold !== null) print(findPresence(capture, threshold));
    } catch (error) {
      if (error instanceof UsageError) throw error;
      failed++;
      console.error(`Not measured. ${errorInWords(error)}`);
    }
  }
  return failed > 0 ? 1 : 0;
}

/** The curve from captures at known distances or from a sweep; `null` for none. */
async function curveOf(
  values: Readonly<Record<string, unknown>>,
  read: (file: string) => Promise<Capture>,
  gain: { transimpedance?: number },
): Promise<LevelCalibration & Shown | null> {
  const { readings, sweep } = values as { readings?: string; sweep?: string };
  const repeatability = values.repeatability as number | null | undefined;
  const options = { ...gain, ...stated({ repeatability }) };
  if (readings !== undefined && sweep !== undefined) {
    throw new UsageError(
      `Cannot ${what} as the curve is given twice: by '--readings' and by '--sweep'`,
    );
  }
  if (readings !== undefined) {
    const folder = dirname(readings);
    const points = [];
    for (
      const { file, distance, standardUncertainty }
        of await readReferenceReadings(readings)
    ) {
      if (file === null) {
        throw new UsageError(
          `Cannot ${what} as '${readings}' holds steps counted by hand: a level needs a capture at each distance`,
        );
      }
      const capture = await read(join(folder, file));
      points.push({ capture, distance, standardUncertainty });
    }
    return calibrateLevel(points, options);
  }
  if (sweep === undefined) return null;
  const from = values["sweep-from"] as number | undefined;
  const to = values["sweep-to"] as number | undefined;
  if (from === undefined || to === undefined) {
    throw new UsageError(
      `Cannot ${what} as a sweep needs '--sweep-from' and '--sweep-to': add, say, --sweep-from 6mm --sweep-to 80mm`,
    );
  }
  const standardUncertainty = values["sweep-uncertainty"] as number | undefined;
  return calibrateLevel(
    levelsOfSweep(await read(sweep), {
      ...gain,
      from,
      to,
      ...stated({ standardUncertainty }),
    }),
    options,
  );
}

/** The same fields without those that are not given. */
function stated<T extends object>(fields: T) {
  return Object.fromEntries(
    Object.entries(fields).filter(([, value]) => value !== undefined),
  ) as { [K in keyof T]?: Exclude<T[K], undefined> };
}

/** `18mm..60mm`: two distances, the nearer one first. */
function withinFlag(): Flag<{ readonly low: number; readonly high: number }> {
  const end = optionOf.length("One end, in m.", "18mm");
  return {
    example: "18mm..60mm",
    doc: "Distances between which the target is known to be.",
    whenMissing: "anywhere",
    many: false,
    read: (text, name, task) => {
      const [low = "", high = "", ...more] = text.split("..");
      if (low === "" || high === "" || more.length > 0) {
        throw new UsageError(
          `Cannot ${task} as '${name}' must be two distances such as 18mm..60mm: current value is "${
            text.slice(0, 40)
          }"`,
        );
      }
      return {
        low: end.read(low, name, task),
        high: end.read(high, name, task),
      };
    },
  };
}

if (import.meta.main) await runTask(task);
