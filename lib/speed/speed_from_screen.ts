import {
  choiceOption,
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
  warn,
} from "../result/mod.ts";
import {
  type UncertaintyBudget,
  wholeCountUncertainty,
} from "../uncertainty/mod.ts";
import {
  type SpeedInputs,
  speedInputs,
  speedInputSpec,
  speedWithBudget,
} from "./speed_budget.ts";

/** Options of {@linkcode speedFromScreen}. */
export interface SpeedFromScreenOptions extends SpeedInputs {
  /** Fringes between the cursors (1). */
  fringes: number | string;
  /** Times of the two cursors, in s, or texts such as `"1.2ms"`. */
  cursors: readonly [number | string, number | string];
  /** Standard uncertainty of the time of each cursor, in s. */
  cursorStandardUncertainty: number | string;
  /**
   * Where the cursors stand: `"on edges"` where both are put on the same place of
   * a fringe, so that the count between them is whole; `"anywhere"` where not.
   *
   * @default {"anywhere"}
   */
  ends?: "on edges" | "anywhere";
  /**
   * Standard uncertainty of the count (1).
   *
   * @default {0 on edges, else 0.41, a whole count between two ends that stand
   * anywhere}
   */
  fringesStandardUncertainty?: number | string | null;
}

const screenSpec = {
  ...speedInputSpec,
  fringes: optionOf.positive("Fringes between the cursors (1).", "1", "8"),
  cursors: listOption(
    "Times of the two cursors, in s.",
    optionOf.finite("A time, in s.", "s", "1.2ms"),
  ),
  cursorStandardUncertainty: optionOf.notNegative(
    "Standard uncertainty of the time of each cursor, in s.",
    "s",
    "6us",
  ),
  ends: optional(
    choiceOption("Where the cursors stand.", ["on edges", "anywhere"]),
    "anywhere",
  ),
  fringesStandardUncertainty: optional(
    optionOf.notNegative("Standard uncertainty of the count (1).", "1", "0.1"),
    null,
    "0 on edges, else 0.41, a whole count between two ends that stand anywhere",
  ),
} satisfies Record<keyof SpeedFromScreenOptions, Option>;

/** A speed from fringes counted on a screen. */
export interface ScreenSpeed extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "speed.screen";
  /** Speed of the surface, in m/s, without sign. */
  readonly speed: Quantity;
  /** Fringes per second, in Hz. */
  readonly dopplerFrequency: Quantity;
  /** What the uncertainty of the speed is made of, in m/s. */
  readonly budget: UncertaintyBudget;
  /** What further checks need beside the result. */
  readonly diagnostics: {
    /** Fringes as counted (1). */
    readonly fringes: Quantity;
    /** Time between the cursors, in s. */
    readonly duration: Quantity;
  };
}

const task = "take a speed from a screen";

/**
 * The speed of a surface whose fringes a person counted between two cursors:
 * f = N/(t₂ − t₁), v = f λ/(2 n cos θ). The sense of the motion is not in a count.
 *
 * @param options What was counted and read, wavelength, angle, air.
 * @returns Speed in m/s and Doppler frequency in Hz, with budget.
 * @throws {RangeError} If the cursors stand at the same time, the beam at a right
 * angle to the motion, or a number makes no sense.
 *
 * @example 8 fringes between cursors 160 µs apart, at 80°
 * ```ts
 * import { speedFromScreen } from "fringebook";
 * import { expect } from "vitest";
 *
 * const { dopplerFrequency, speed } = speedFromScreen({
 *   fringes: 8,
 *   cursors: ["20us", "180us"],
 *   cursorStandardUncertainty: "1.2us",
 *   ends: "on edges",
 *   wavelength: "650nm",
 *   angle: "80deg",
 *   angleStandardUncertainty: "1deg",
 * });
 * expect(dopplerFrequency.value).toBeCloseTo(50e3, 6);
 * expect(speed.value).toBeCloseTo(93.55e-3, 5);
 * ```
 */
export function speedFromScreen(
  options: SpeedFromScreenOptions,
): ScreenSpeed & Shown {
  const read = readOptions(screenSpec, options, task);
  const { fringes, cursors, ends, cursorStandardUncertainty } = read;
  if (cursors.length !== 2 || cursors[0] === cursors[1]) {
    throw new RangeError(
      `Cannot ${task} as 'cursors' must be two different times: current value is ${
        JSON.stringify(cursors)
      }`,
    );
  }
  const {
    fringesStandardUncertainty: uFringes = null,
  } = read;
  const u = uFringes ?? (ends === "on edges" ? 0 : wholeCountUncertainty);
  const count = quantity(fringes, u, "1");
  const duration = quantity(
    Math.abs(cursors[1]! - cursors[0]!),
    Math.SQRT2 * cursorStandardUncertainty,
    "s",
  );
  const line = fringes / duration.value;
  const dopplerFrequency = quantity(
    line,
    line *
      Math.hypot(u / fringes, duration.standardUncertainty / duration.value),
    "Hz",
  );
  const { speed, budget } = speedWithBudget(dopplerFrequency, read, task);
  return createResult({
    kind: "speed.screen" as const,
    speed,
    dopplerFrequency,
    budget,
    warnings: ends === "on edges" && !Number.isInteger(fringes)
      ? [warn(
        "part-of-a-fringe",
        `${fringes} fringes stand between cursors said to be on edges: from edge to edge the count is whole`,
      )]
      : [],
    provenance: provenance({
      method: "speedFromScreen",
      options: { ...read },
      inputs: speedInputs(options, read),
      sources: ["Shinohara et al. 1986", "JCGM 100:2008, 4.3.9"],
    }),
    diagnostics: { fringes: count, duration },
  });
}
