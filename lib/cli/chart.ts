/**
 * `deno task chart FILE …`: what was measured again and again. A table of a check
 * value over days becomes a control chart, calibration records are held against
 * each other and against the temperature, and the results of `measure --output`
 * are compared run by run.
 *
 * Exit codes: 0 in control and nothing differs, 1 out of control or changed, 2
 * wrong arguments.
 *
 * @module
 */
import { join } from "@std/path";
import { compareRuns, type FileOutcome, readBatch } from "../batch/mod.ts";
import { drawPicture, type Figure, printReport } from "../display/mod.ts";
import { writeWhole } from "../files/mod.ts";
import { optional, optionOf } from "../options/mod.ts";
import { fitTuningTemperature, tuningAtTemperature } from "../range/mod.ts";
import {
  checkStability,
  compareRecords,
  loadCalibrationRecord,
  type StabilityPoint,
  tuningFromRecord,
} from "../record/mod.ts";
import {
  createResult,
  provenance,
  quantity,
  type Result,
  type Shown,
} from "../result/mod.ts";
import { readTextUpTo } from "../runtime/mod.ts";
import { parseMeasure, splitHeading, tableRows } from "../units/mod.ts";
import {
  flagHelp,
  flagOf,
  loneFlag,
  readFlags,
  runTask,
  type Task,
  textFlag,
  UsageError,
} from "./task/mod.ts";

const reference = optionOf.finite("", "m", "120mm");

const flags = {
  "baseline": flagOf(
    optionOf.whole("Points at the beginning from which the limits come.", {
      least: 4,
    }),
    { whenMissing: "the first 20, or all where there are fewer" },
  ),
  "reference": flagOf(
    optional({ ...reference, doc: "Known value of what is checked." }, null),
  ),
  "reference-uncertainty": flagOf(
    optional(
      { ...reference, doc: "Its standard uncertainty.", example: "0.1mm" },
      0,
      "0, the value is taken as exact",
    ),
  ),
  "temperature": flagOf(
    optional(
      optionOf.between(
        "Temperature of the diode at which the tuning is wanted.",
        -60,
        150,
        "°C",
        "23°C",
      ),
      null,
      "none, the coefficient alone",
    ),
    { unitNeeded: true },
  ),
  "temperature-uncertainty": flagOf(
    optional(
      optionOf.notNegative("Its standard uncertainty.", "K", "0.3K"),
      0,
      "0, the value is taken as exact",
    ),
  ),
  "quantity": textFlag(
    "Quantity of the runs that is compared, as the reports name it.",
    "amplitude",
    "the first of the first report",
  ),
  "common-uncertainty": flagOf(
    optional(
      optionOf.relative(
        "Relative standard uncertainty that all runs share, such as the wavelength's.",
      ),
      0,
    ),
  ),
  "picture": textFlag("Write the figures into this folder as PNG.", "FOLDER"),
  "json": loneFlag("One JSON line per report."),
} as const;

const what = "make a chart";

/** The task. */
export const task: Task = {
  name: "chart",
  help: `deno task chart FILE … [options]

What was measured again and again, by the kind of FILE: a table with the columns
date, value (mm) and, where known, standard uncertainty (mm) becomes a control
chart; calibration records (.json) are held against each other and against the
temperature of the diode; results of 'measure --output' (.jsonl) are compared
run by run.

${flagHelp(flags)}

Exit codes: 0 in control and nothing differs, 1 out of control or changed,
2 wrong arguments.`,
  run: chart,
};

async function chart(given: readonly string[]): Promise<number> {
  const { values, rest } = readFlags(flags, given, { task: what });
  const [first, ...more] = rest;
  if (first === undefined) {
    throw new UsageError(`Cannot ${what} as no file was given`);
  }
  const show = async (result: Result & Shown, name: string) => {
    console.log(
      values.json === true
        ? JSON.stringify(JSON.parse(printReport(result, { format: "json" })))
        : printReport(result),
    );
    if (values.picture === undefined) return;
    await Deno.mkdir(values.picture, { recursive: true });
    const { png } = await drawPicture(result.figure() as Figure);
    await writeWhole(join(values.picture, `${name}.png`), png);
  };
  if (rest.every((file) => file.endsWith(".json"))) {
    return await records(rest, values, show);
  }
  if (rest.every((file) => file.endsWith(".jsonl"))) {
    return await runs(rest, values, show);
  }
  if (more.length > 0) {
    throw new UsageError(
      `Cannot ${what} of several files unless all are records (.json) or results (.jsonl)`,
    );
  }
  const { points, unit } = await readTable(first);
  const stability = checkStability(points, {
    unit,
    ...(values.baseline === undefined ? {} : { baseline: values.baseline }),
    reference: values.reference === undefined || values.reference === null
      ? null
      : {
        value: values.reference,
        standardUncertainty: values["reference-uncertainty"] ?? 0,
      },
  });
  await show(stability, "control_chart");
  return stability.inControl ? 0 : 1;
}

type Values = ReturnType<typeof readFlags<typeof flags>>["values"];
type Show = (result: Result & Shown, name: string) => Promise<void>;

async function records(
  files: readonly string[],
  values: Values,
  show: Show,
): Promise<number> {
  const loaded = [];
  for (const file of files) loaded.push(await loadCalibrationRecord(file));
  const comparison = compareRecords(loaded);
  await show(comparison, "records");
  const points = loaded.flatMap((record) => {
    const { temperature } = record.conditions;
    return temperature === null ? [] : [{
      temperature,
      calibration: tuningFromRecord(record, { temperature }),
    }];
  });
  const distinct = new Set(points.map(({ temperature }) => temperature)).size;
  if (distinct >= 3) {
    const fit = fitTuningTemperature(points);
    await show(fit, "tuning_against_temperature");
    const { temperature = null } = values;
    if (temperature !== null) {
      const { tuning, warnings } = tuningAtTemperature(fit, {
        temperature,
        temperatureStandardUncertainty: values["temperature-uncertainty"] ?? 0,
      });
      const inPico = (value: number) => (1e9 * value).toPrecision(5);
      console.log(
        `At ${temperature} °C: --tuning ${
          inPico(tuning.value)
        }pm/mA --tuning-uncertainty ${inPico(tuning.standardUncertainty)}pm/mA`,
      );
      for (const { message } of warnings) console.log(`! ${message}`);
    }
  } else if (values.temperature !== undefined) {
    throw new UsageError(
      `Cannot ${what} at a temperature as the records hold ${distinct} temperatures: it takes 3 and more`,
    );
  }
  return comparison.records.some(({ ratio }) => ratio > 1) ? 1 : 0;
}

async function runs(
  files: readonly string[],
  values: Values,
  show: Show,
): Promise<number> {
  const outcomes: FileOutcome[] = [];
  for (const file of files) outcomes.push(...(await readBatch(file)).outcomes);
  const measured = outcomes.filter(({ status }) => status === "measured");
  const name = values.quantity ?? headlinesOf(measured[0])[0]?.label;
  if (name === undefined) {
    throw new UsageError(`Cannot ${what} as no capture was measured`);
  }
  const comparison = compareRuns(
    measured.map((outcome) => ({
      label: outcome.file.split(/[\\/]/).at(-1)!,
      result: asResult(outcome, name),
    })),
    {
      quantity: name,
      commonRelativeStandardUncertainty: values["common-uncertainty"] ?? 0,
    },
  );
  await show(comparison, "runs");
  return comparison.differs ? 1 : 0;
}

interface Headline {
  readonly label: string;
  readonly value: number;
  readonly standardUncertainty: number;
  readonly unit: string;
}

function headlinesOf(outcome: FileOutcome | undefined): Headline[] {
  return (outcome?.reports ?? []).flatMap((report) => {
    const { headlines = [] } = report as { headlines?: Headline[] };
    return headlines;
  });
}

function asResult(outcome: FileOutcome, name: string): Result {
  const all = headlinesOf(outcome);
  const found = all.find(({ label }) => label === name);
  if (found === undefined) {
    throw new UsageError(
      `Cannot ${what} as '${outcome.file}' has no '${name}': it has ${
        all.map(({ label }) => label).join(", ")
      }`,
    );
  }
  const { value, standardUncertainty, unit } = found;
  const kind = outcome.measurement ?? "measurement";
  return createResult({
    kind,
    [name]: quantity(Number(value), Number(standardUncertainty), unit),
    warnings: [],
    provenance: provenance({ method: "measure" }),
    diagnostics: {},
  });
}

/** Largest table that is read, in bytes. */
const largestTable = 2 ** 24;

/** A table of dates and values in one unit. */
async function readTable(
  path: string,
): Promise<{ points: StabilityPoint[]; unit: string }> {
  const refuse = (why: string) =>
    new UsageError(`Cannot read the table '${path}' as ${why}`);
  const named = "Make them 'date', 'value (mm)', 'standard uncertainty (mm)'";
  const text = await readTextUpTo(path, largestTable).catch((error) => {
    throw error instanceof Deno.errors.NotFound
      ? refuse("there is no such file. Check the path")
      : error;
  });
  const [heads = [], ...rows] = tableRows(
    text,
    (why) => refuse(`${why}. It needs columns with heads. ${named}`),
  );
  const place = (wanted: RegExp) =>
    heads.findIndex((each) => wanted.test(splitHeading(each).name.trim()));
  const date = place(/^(date|time|day)$/i);
  const value = place(/^(value|distance)$/i);
  const uncertainty = place(/^standard uncertainty$/i);
  if (date < 0 || value < 0) {
    throw refuse(
      `it lacks the column 'date' or 'value': it has ${
        heads.join(", ")
      }. ${named}`,
    );
  }
  const scale = (column: number) => {
    const { unit } = splitHeading(heads[column] ?? "");
    return unit === null ? null : parseMeasure(`1${unit}`);
  };
  const measured = scale(value);
  const points = rows.map((row, index): StabilityPoint => {
    const number = (column: number, factor: number) => {
      const read = parseMeasure(row[column] ?? "");
      if (read?.unit === "") return read.value * factor;
      throw refuse(
        `line ${index + 2} has no number in column '${heads[column]}': '${
          row[column] ?? ""
        }'`,
      );
    };
    return {
      time: row[date] ?? "",
      value: number(value, measured?.value ?? 1),
      ...(uncertainty < 0 ? {} : {
        standardUncertainty: number(
          uncertainty,
          scale(uncertainty)?.value ?? measured?.value ?? 1,
        ),
      }),
    };
  });
  return { points, unit: measured?.unit || "1" };
}

if (import.meta.main) await runTask(task);
