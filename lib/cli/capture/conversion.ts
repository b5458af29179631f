import { convertDrive, type CurrentAtVoltage } from "../../bench/mod.ts";
import type { Capture } from "../../capture/mod.ts";
import { optionOf } from "../../options/mod.ts";
import { parseMeasure, splitHeading, tableRows } from "../../units/mod.ts";
import {
  type Flag,
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
}

/** The flags of a drive that is no plain voltage over a resistor. */
export const conversionFlags = {
  "current-curve": textFlag(
    "Table with the columns voltage (V) and current (mA): the diode hangs on a constant voltage.",
    "FILE",
    "",
  ),
  "drive-corner": cornerFlag(),
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
    },
  };
}

/** The capture with a drive current, where a conversion was asked for. */
export function converted(
  capture: Capture,
  conversion: Conversion | undefined,
): Capture {
  if (conversion === undefined) return capture;
  const { curve, ...rest } = conversion;
  const made = convertDrive(
    capture,
    curve === null ? rest : { curve },
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
  const column = (name: string, unit: string) => {
    const index = heads.findIndex((each) =>
      splitHeading(each).name.trim().toLowerCase() === name
    );
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
  return rows.map((row) => ({ voltage: voltage(row), current: current(row) }));
}
