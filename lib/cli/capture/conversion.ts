import { convertDrive, type CurrentAtVoltage } from "../../bench/mod.ts";
import type { Capture } from "../../capture/mod.ts";
import { optional, optionOf } from "../../options/mod.ts";
import { parseMeasure, splitHeading, tableRows } from "../../units/mod.ts";
import {
  type Flag,
  flagOf,
  type FlagValues,
  textFlag,
  UsageError,
} from "../task/mod.ts";
import type { CaptureTask } from "./capture_task.ts";

/** How a drive voltage becomes the diode's current; a plain object. */
export interface Conversion {
  /** Current against voltage, or `null`. */
  readonly curve: readonly CurrentAtVoltage[] | null;
  /** Current per voltage, in A/V, or `null`. */
  readonly currentPerVoltage: number | null;
  /** Current at a drive voltage of 0, in A. */
  readonly currentOffset: number;
  /** Corner of the capacitor in front of the diode, in Hz; or to be found. */
  readonly couplingCorner: number | "find" | null;
  /** Standard uncertainty of a corner that is given, in Hz. */
  readonly couplingCornerStandardUncertainty: number;
  /** Relative standard uncertainty of the voltage against that of the curve (1). */
  readonly voltageScaleRelativeStandardUncertainty: number;
}

const exact = "0, the value is taken as exact";

/** The flags of a drive that is no plain voltage over a resistor. */
export const conversionFlags = {
  "current-curve": textFlag(
    "Table with the columns voltage (V), current (mA) and, where known, standard uncertainty (mA): the diode hangs on a constant voltage.",
    "FILE",
    "",
  ),
  "voltage-scale-uncertainty": flagOf(
    optional(
      optionOf.relative(
        "Relative standard uncertainty of the scale of the recorded voltage against that of the curve (1).",
      ),
      0,
      exact,
    ),
  ),
  "drive-corner": cornerFlag(),
  "drive-corner-uncertainty": flagOf(
    optional(
      optionOf.notNegative(
        "Standard uncertainty of a corner that is given, in Hz.",
        "Hz",
        "0.5Hz",
      ),
      0,
      exact,
    ),
  ),
} as const;

function cornerFlag(): Flag<number | "find"> {
  const corner = optionOf.frequency("", "16Hz");
  return {
    example: "16Hz",
    doc:
      "Corner of the capacitor through which the modulation reaches the diode; 'find' finds it from the power. Give the operating current as --current-offset.",
    whenMissing: "none, coupled with DC",
    many: false,
    read: (text, name, task) =>
      text === "find" ? text : corner.read(text, name, task),
  };
}

/**
 * The conversion that was asked for, with the task changed to it: what reads the
 * drive then finds a current.
 */
export function conversionOf(
  values: FlagValues<typeof conversionFlags>,
  asked: CaptureTask,
  task: string,
): Partial<CaptureTask & { readonly conversion: Conversion }> {
  const file = values["current-curve"];
  const couplingCorner = values["drive-corner"] ?? null;
  const needs = (name: keyof typeof values, other: string, isMet: boolean) => {
    if (values[name] === undefined || isMet) return;
    throw new UsageError(
      `Cannot ${task} with '--${name}' as it needs ${other}: add it, or leave it out`,
    );
  };
  needs(
    "voltage-scale-uncertainty",
    "'--current-curve FILE'",
    file !== undefined,
  );
  needs(
    "drive-corner-uncertainty",
    "'--drive-corner' with the corner as a number: one that is found brings its own",
    typeof couplingCorner === "number",
  );
  if (file === undefined && couplingCorner === null) return {};
  const { currentPerVoltage = null, currentOffset = 0, ...options } =
    asked.options;
  if (
    file !== undefined &&
    (currentPerVoltage !== null || couplingCorner !== null)
  ) {
    throw new UsageError(
      `Cannot ${task} with '--current-curve' beside '--current-per-voltage' or '--drive-corner': the curve is the whole way from voltage to current`,
    );
  }
  if (file === undefined && typeof currentPerVoltage !== "number") {
    throw new UsageError(
      `Cannot ${task} as '--drive-corner' needs '--current-per-voltage': add, say, --current-per-voltage 10mA/V`,
    );
  }
  return {
    channels: { ...asked.channels, scaled: true },
    options,
    conversion: {
      curve: file === undefined ? null : curveOf(file),
      currentPerVoltage: currentPerVoltage as number | null,
      currentOffset: currentOffset as number,
      couplingCorner,
      couplingCornerStandardUncertainty: values["drive-corner-uncertainty"] ??
        0,
      voltageScaleRelativeStandardUncertainty:
        values["voltage-scale-uncertainty"] ?? 0,
    },
  };
}

/** The capture with a drive current, where a conversion was asked for. */
export function converted(
  capture: Capture,
  conversion: Conversion | undefined,
): Capture {
  if (conversion === undefined) return capture;
  const { curve, voltageScaleRelativeStandardUncertainty, ...rest } =
    conversion;
  const made = convertDrive(
    capture,
    curve === null ? rest : { curve, voltageScaleRelativeStandardUncertainty },
  );
  return {
    ...made.capture,
    warnings: [...capture.warnings, ...made.warnings],
  };
}

function curveOf(file: string): CurrentAtVoltage[] {
  const refuse = (why: string) =>
    new UsageError(
      `Cannot read the curve '${file}' as ${why}. Make its columns 'voltage (V)' and 'current (mA)'`,
    );
  let text: string;
  try {
    text = Deno.readTextFileSync(file);
  } catch (error) {
    throw refuse(error instanceof Error ? error.message : String(error));
  }
  const [heads = [], ...rows] = tableRows(text, refuse);
  const placeOf = (name: string) =>
    heads.findIndex((each) =>
      splitHeading(each).name.trim().toLowerCase() === name
    );
  const column = (name: string, unit: string) => {
    const index = placeOf(name);
    const scale = parseMeasure(`1${splitHeading(heads[index] ?? "").unit}`);
    if (index < 0 || scale?.unit !== unit) {
      throw refuse(`it has no column '${name}' with a unit of ${unit}`);
    }
    return (row: readonly string[]) => {
      const read = parseMeasure(row[index] ?? "");
      if (read?.unit === "") return read.value * scale.value;
      throw refuse(`'${row[index]}' is no number`);
    };
  };
  const voltage = column("voltage", "V");
  const current = column("current", "A");
  const uncertainty = placeOf("standard uncertainty") < 0
    ? null
    : column("standard uncertainty", "A");
  return rows.map((row) => ({
    voltage: voltage(row),
    current: current(row),
    ...(uncertainty === null ? {} : { standardUncertainty: uncertainty(row) }),
  }));
}
