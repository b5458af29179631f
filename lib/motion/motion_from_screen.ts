import {
  benchOptions,
  choiceOption,
  inputsOf,
  listOption,
  type Option,
  optional,
  optionOf,
  readOptions,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
} from "../result/mod.ts";
import {
  propagateUncertainty,
  uncertainInput,
  type UncertaintyBudget,
  wholeCountUncertainty,
} from "../uncertainty/mod.ts";

/** Options of {@linkcode motionFromScreen}. */
export interface MotionFromScreenOptions {
  /** Fringes counted from one turning point to the next (1). */
  fringes: number | string;
  /**
   * Standard uncertainty of that count (1). Parts of a fringe that are estimated
   * by eye have about 0.1 (common practice, no source).
   *
   * @default {0.41, a whole count between two ends that stand anywhere}
   */
  fringesStandardUncertainty?: number | string;
  /** Vacuum wavelength of the diode, in m, or a text such as `"650nm"`. */
  wavelength: number | string;
  /**
   * Standard uncertainty of the wavelength, in m.
   *
   * @default {0}
   */
  wavelengthStandardUncertainty?: number | string;
  /**
   * Phase index of the air (1).
   *
   * @default {1.00027, the air of a room}
   */
  refractiveIndex?: number | string;
  /**
   * Times of two turning points read with the cursors, in s.
   *
   * @default {null}
   */
  turningPoints?: readonly [number | string, number | string] | null;
  /**
   * Strokes between these two turning points: 1 from one to the next, 2 for a
   * whole period.
   *
   * @default {1}
   */
  strokes?: number | string;
  /**
   * Standard uncertainty of each of these times, in s.
   *
   * @default {0, the value is taken as exact}
   */
  cursorStandardUncertainty?: number | string;
  /**
   * How the target moves between turning points.
   *
   * @default {"sine"}
   */
  waveform?: "sine" | "triangle";
}

const screenSpec = {
  fringes: optionOf.positive(
    "Fringes counted from one turning point to the next (1).",
    "1",
    "12",
  ),
  fringesStandardUncertainty: optional(
    optionOf.notNegative(
      "Standard uncertainty of that count (1).",
      "1",
      "0.1",
    ),
    wholeCountUncertainty,
    "0.41, a whole count between two ends that stand anywhere",
  ),
  wavelength: benchOptions.wavelength,
  wavelengthStandardUncertainty: benchOptions.wavelengthStandardUncertainty,
  refractiveIndex: benchOptions.refractiveIndex,
  turningPoints: optional(
    listOption(
      "Times of two turning points read with the cursors, in s.",
      optionOf.finite("A time, in s.", "s", "1.2ms"),
    ),
    null,
  ),
  strokes: optional(
    optionOf.whole("Strokes between these two turning points.", {
      least: 1,
      most: 1_000_000,
    }),
    1,
  ),
  cursorStandardUncertainty: optional(
    optionOf.notNegative(
      "Standard uncertainty of each of these times, in s.",
      "s",
      "0.1ms",
    ),
    0,
    "0, the value is taken as exact",
  ),
  waveform: optional(
    choiceOption("How the target moves between turning points.", [
      "sine",
      "triangle",
    ]),
    "sine",
  ),
} satisfies Record<keyof MotionFromScreenOptions, Option>;

/** A motion counted on a screen. */
export interface ScreenMotion extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.screen";
  /** Way from one turning point to the next, in m: λ/2n per fringe. */
  readonly peakToPeak: Quantity;
  /** Half of it, in m. */
  readonly amplitude: Quantity;
  /** Frequency of the motion, in Hz; `null` where no times were read. */
  readonly frequency: Quantity | null;
  /** Greatest speed, in m/s; `null` where no times were read. */
  readonly greatestSpeed: Quantity | null;
  /**
   * Fringes per second at the greatest speed, in Hz; `null` where no times were
   * read.
   */
  readonly greatestFringeRate: Quantity | null;
  /** How the target was taken to move. */
  readonly waveform: "sine" | "triangle";
  /** What the uncertainty of the amplitude is made of, in m. */
  readonly budget: UncertaintyBudget;
  /** What further checks need beside the result. */
  readonly diagnostics: {
    /** Fringes as counted (1). */
    readonly fringes: Quantity;
    /** Time between turning points, in s; `null` where none were read. */
    readonly strokeDuration: Quantity | null;
  };
}

const task = "take a motion from a screen";

/**
 * The amplitude of a motion whose fringes a person counted on a scope screen,
 * from one turning point to the next: A = N λ/(4n), as one fringe is half a
 * wavelength. With the times of two turning points also the frequency, and the
 * greatest speed: 2π f A for a sine, 4 f A for a triangle.
 *
 * A whole-number count is uncertain by 1/√6 = 0.41 fringes, as the target turns
 * anywhere within a fringe at both ends.
 *
 * @param options What was counted and read, wavelength, air.
 * @returns Amplitude in m with its budget; frequency, greatest speed and fringe
 * rate.
 * @throws {RangeError} If a number makes no sense.
 *
 * Source: JCGM 100:2008, 4.3.9 (triangular distribution).
 *
 * @example 12 fringes per stroke of a 650 nm diode, a stroke of 5 ms
 * ```ts
 * import { motionFromScreen } from "fringebook";
 * import { expect } from "vitest";
 *
 * const { amplitude, frequency } = motionFromScreen({
 *   fringes: 12,
 *   wavelength: "650nm",
 *   turningPoints: ["1.2ms", "6.2ms"],
 *   cursorStandardUncertainty: "0.06ms",
 * });
 * expect(amplitude.value).toBeCloseTo(1.949e-6, 9); // 12 × 650 nm / 4n
 * expect(amplitude.standardUncertainty).toBeCloseTo(66e-9, 9); // 0.41 × 162 nm
 * expect(frequency?.value).toBeCloseTo(100, 9);
 * ```
 */
export function motionFromScreen(
  options: MotionFromScreenOptions,
): ScreenMotion & Shown {
  const read = readOptions(screenSpec, options, task);
  const { waveform } = read;
  const duration = strokeDurationOf(read);
  const inputs = [
    uncertainInput("count of the fringes", read.fringes, {
      standardUncertainty: read.fringesStandardUncertainty,
    }),
    uncertainInput("wavelength", read.wavelength, {
      standardUncertainty: read.wavelengthStandardUncertainty,
      unit: "m",
    }),
  ];
  const amplitudeOf = (values: Readonly<Record<string, number>>) =>
    values["count of the fringes"]! * values["wavelength"]! /
    (4 * read.refractiveIndex);
  const budget = propagateUncertainty(amplitudeOf, inputs, { unit: "m" });
  const amplitude = budget.output;
  const timed = duration && timesOf(read, amplitude, duration);
  return createResult({
    kind: "motion.screen" as const,
    peakToPeak: times(amplitude, 2, "m"),
    amplitude,
    frequency: timed?.frequency ?? null,
    greatestSpeed: timed?.greatestSpeed ?? null,
    greatestFringeRate: timed?.greatestFringeRate ?? null,
    waveform,
    budget,
    warnings: [],
    provenance: provenance({
      method: "motionFromScreen",
      options: { ...read },
      inputs: inputsOf(screenSpec, options, read, [
        "wavelength",
        "refractiveIndex",
      ]),
      sources: ["JCGM 100:2008, 4.3.9"],
    }),
    diagnostics: {
      fringes: quantity(read.fringes, read.fringesStandardUncertainty, "1"),
      strokeDuration: duration,
    },
  });
}

type ReadScreen = ReturnType<typeof readOptions<typeof screenSpec>>;

/** Time between turning points, in s; `null` where none were read. */
function strokeDurationOf(read: ReadScreen): Quantity | null {
  const { turningPoints, strokes, cursorStandardUncertainty } = read;
  if (turningPoints === null) return null;
  if (turningPoints.length !== 2 || turningPoints[0] === turningPoints[1]) {
    throw new RangeError(
      `Cannot ${task} as 'turningPoints' must be two different times: current value is ${
        JSON.stringify(turningPoints)
      }`,
    );
  }
  const between = Math.abs(turningPoints[1]! - turningPoints[0]!);
  return quantity(
    between / strokes,
    Math.SQRT2 * cursorStandardUncertainty / strokes,
    "s",
  );
}

/** What follows once the time of a stroke is known. */
function timesOf(
  { waveform, wavelength, wavelengthStandardUncertainty, refractiveIndex }:
    ReadScreen,
  amplitude: Quantity,
  duration: Quantity,
) {
  const relative = duration.standardUncertainty / duration.value;
  const frequency = 1 / (2 * duration.value);
  const perAmplitude = (waveform === "sine" ? 2 * Math.PI : 4) * frequency;
  const speed = perAmplitude * amplitude.value;
  const uAmplitude = amplitude.standardUncertainty / amplitude.value;
  // The wavelength cancels from the fringe rate.
  const uFringes = Math.sqrt(
    Math.max(
      0,
      uAmplitude ** 2 - (wavelengthStandardUncertainty / wavelength) ** 2,
    ),
  );
  const rate = 2 * refractiveIndex * speed / wavelength;
  return {
    frequency: quantity(frequency, frequency * relative, "Hz"),
    greatestSpeed: quantity(
      speed,
      speed * Math.hypot(relative, uAmplitude),
      "m/s",
    ),
    greatestFringeRate: quantity(
      rate,
      rate * Math.hypot(relative, uFringes),
      "Hz",
    ),
  };
}

function times(amount: Quantity, factor: number, unit: string): Quantity {
  return quantity(
    factor * amount.value,
    factor * amount.standardUncertainty,
    unit,
  );
}
