import { studentQuantile } from "../fit/mod.ts";
import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireNumber,
  requireText,
} from "../options/mod.ts";
import type { RandomStream } from "../signal/mod.ts";

/**
 * How an input quantity is distributed (JCGM 101:2008, 6.4).
 *
 * - `normal`: from mean and standard uncertainty.
 * - `student`: scaled and shifted t with its degrees of freedom.
 * - `rectangular`: equally likely between two limits.
 * - `curvilinear trapezoid`: rectangular with inexactly known limits ± d.
 * - `triangular`, `arcsine` (U-shaped): between two limits.
 */
export type Distribution =
  | "normal"
  | "student"
  | "rectangular"
  | "curvilinear trapezoid"
  | "triangular"
  | "arcsine";

/** An input quantity of a measurement model. */
export interface UncertainInput {
  /** Name, as the model function takes it. */
  readonly name: string;
  /** Estimate, in `unit`. */
  readonly value: number;
  /** Standard uncertainty, in `unit`. */
  readonly standardUncertainty: number;
  /** Degrees of freedom (1). */
  readonly degreesOfFreedom: number;
  /** SI unit symbol. */
  readonly unit: string;
  /** How it is distributed, for Monte Carlo. */
  readonly distribution: Distribution;
  /**
   * For a curvilinear trapezoid: half-width d by which the limits are uncertain,
   * in `unit`; else 0.
   */
  readonly limitHalfWidth: number;
}

/** What {@linkcode uncertainInput} takes. */
export interface UncertainInputOptions {
  /**
   * Standard uncertainty, in the unit; needed for `normal` and `student`.
   */
  standardUncertainty?: number;
  /**
   * Half-width of the interval, in the unit; instead of a standard uncertainty
   * for the other distributions.
   */
  halfWidth?: number;
  /**
   * How it is distributed.
   *
   * @default {"normal", or "student" with degrees of freedom, or "rectangular" with a half-width}
   */
  distribution?: Distribution;
  /**
   * Degrees of freedom (1).
   *
   * @default {Infinity}
   */
  degreesOfFreedom?: number;
  /**
   * SI unit symbol.
   *
   * @default {"1"}
   */
  unit?: string;
  /**
   * For a curvilinear trapezoid: half-width by which the limits are uncertain.
   *
   * @default {0}
   */
  limitHalfWidth?: number;
}

export const inputSpec = {
  standardUncertainty: optional(
    optionOf.notNegative("Standard uncertainty, in the unit."),
    undefined,
    "from the half-width",
  ),
  halfWidth: optional(
    optionOf.notNegative("Half-width of the interval, in the unit."),
    undefined,
    "none",
  ),
  distribution: optional(
    optionOf.choice("How it is distributed.", [
      "normal",
      "student",
      "rectangular",
      "curvilinear trapezoid",
      "triangular",
      "arcsine",
    ]),
    undefined,
    '"normal", or "student" with degrees of freedom, or "rectangular" with a half-width',
  ),
  degreesOfFreedom: optional(
    optionOf.positive("Degrees of freedom (1)."),
    Infinity,
    "Infinity",
  ),
  unit: optional(optionOf.text("SI unit symbol.", "m"), "1"),
  limitHalfWidth: optional(
    optionOf.notNegative(
      "For a curvilinear trapezoid: half-width by which the limits are uncertain.",
    ),
    0,
  ),
} satisfies Record<keyof UncertainInputOptions, Option>;

/**
 * Describes an input quantity of a measurement model. The standard uncertainty
 * follows from a half-width a: a/√3 rectangular, a/√6 triangular, a/√2 arcsine,
 * √(a²/3 + d²/9) curvilinear trapezoid (JCGM 101:2008, 6.4).
 *
 * @param name Name, as the model function takes it.
 * @param value Estimate, in the unit.
 * @param options Standard uncertainty or half-width, distribution, unit.
 * @returns The input with all fields.
 * @throws {RangeError} If there is neither a standard uncertainty nor a
 * half-width, or one is negative.
 *
 * @example
 * ```ts
 * import { uncertainInput } from "fringebook";
 * import { expect } from "vitest";
 *
 * const offset = uncertainInput("offset", 0, { halfWidth: 0.5, unit: "m" });
 * expect(offset.standardUncertainty).toBeCloseTo(0.5 / Math.sqrt(3), 12);
 * ```
 */
export function uncertainInput(
  name: string,
  value: number,
  options: UncertainInputOptions,
): UncertainInput {
  const task = "describe an input";
  requireText(name, "name", task);
  requireNumber(value, "value", "1", task);
  const read = readOptions(inputSpec, options, task);
  const {
    degreesOfFreedom,
    unit,
    limitHalfWidth,
    halfWidth,
    distribution = halfWidth !== undefined
      ? "rectangular"
      : Number.isFinite(degreesOfFreedom)
      ? "student"
      : "normal",
  } = read;
  const standardUncertainty = read.standardUncertainty ??
    fromHalfWidth(halfWidth, limitHalfWidth, distribution);
  if (!Number.isFinite(value)) {
    throw new RangeError(
      `Cannot describe '${name}' as its value must be a finite number: current value is ${value}`,
    );
  }
  if (!(standardUncertainty >= 0)) {
    throw new RangeError(
      `Cannot describe '${name}' as it needs a standard uncertainty or a half-width that is not negative: current value is ${standardUncertainty}`,
    );
  }
  if (!(degreesOfFreedom > 0)) {
    throw new RangeError(
      `Cannot describe '${name}' as its degrees of freedom must be positive: current value is ${degreesOfFreedom}`,
    );
  }
  return {
    name,
    value,
    standardUncertainty,
    degreesOfFreedom,
    unit,
    distribution,
    limitHalfWidth,
  };
}

function fromHalfWidth(
  a: number | undefined,
  d: number,
  distribution: Distribution,
): number {
  if (a === undefined) return NaN;
  switch (distribution) {
    case "rectangular":
      return a / Math.sqrt(3);
    case "triangular":
      return a / Math.sqrt(6);
    case "arcsine":
      return a / Math.sqrt(2);
    case "curvilinear trapezoid":
      return Math.sqrt(a * a / 3 + d * d / 9);
    default:
      return NaN;
  }
}

/** Draws one value of an input (JCGM 101:2008, 6.4). */
export function drawInput(input: UncertainInput, random: RandomStream): number {
  const { value, standardUncertainty: u } = input;
  if (u === 0) return value;
  switch (input.distribution) {
    case "normal":
      return value + u * random.normal();
    case "student":
      return value + u * drawStudent(input.degreesOfFreedom, random);
    case "rectangular":
      return value + u * Math.sqrt(3) * (2 * random.uniform() - 1);
    case "triangular":
      return value +
        u * Math.sqrt(6) * (random.uniform() + random.uniform() - 1);
    case "arcsine":
      return value + u * Math.SQRT2 * Math.sin(2 * Math.PI * random.uniform());
    case "curvilinear trapezoid": {
      const d = input.limitHalfWidth;
      const a = Math.sqrt(Math.max(0, 3 * (u * u - d * d / 9)));
      const limit = a + d * (2 * random.uniform() - 1);
      return value + limit * (2 * random.uniform() - 1);
    }
  }
}

function drawStudent(degreesOfFreedom: number, random: RandomStream): number {
  if (!Number.isFinite(degreesOfFreedom)) return random.normal();
  if (Number.isInteger(degreesOfFreedom) && degreesOfFreedom <= 200) {
    let squares = 0;
    for (let i = 0; i < degreesOfFreedom; i++) squares += random.normal() ** 2;
    return random.normal() / Math.sqrt(squares / degreesOfFreedom);
  }
  const p = Math.min(1 - 1e-12, Math.max(1e-12, random.uniform()));
  return studentQuantile(p, degreesOfFreedom);
}
