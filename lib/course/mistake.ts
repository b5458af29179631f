import { requireNumber, requireOptionNames } from "../options/mod.ts";
/** Kinds of mistake that leave a mark in the number. */
export type MistakeKind =
  | "factor 2"
  | "wavelength for half a wavelength"
  | "degrees for radians"
  | "missing cosine"
  | "unit prefix"
  | "integer count"
  | "sign"
  | "factor 2 pi"
  | "round trip";

/** A recognised mistake and a hint that does not give the answer away. */
export interface Mistake {
  /** What kind of mistake it looks like. */
  readonly kind: MistakeKind;
  /** One plain sentence that helps to find it. */
  readonly hint: string;
}

const hints: Record<MistakeKind, string> = {
  "factor 2":
    "Your value is off by a factor of 2. Where does light travel a path twice, or where is an amplitude taken for a peak-to-peak value?",
  "wavelength for half a wavelength":
    "Your value is twice too large. How far does the target move for one fringe, when the light goes there and back?",
  "degrees for radians":
    "Your value fits an angle in degrees put into a sine or cosine that takes radians.",
  "missing cosine":
    "Your value fits a surface that runs straight along the beam. Which part of the velocity does the beam see?",
  "unit prefix":
    "Your value is off by a power of 1000. Check the prefix of each unit: nm, µm, mm; mA, A; GHz, Hz.",
  "integer count":
    "Your value fits a whole number of fringes. The first and the last fringe are rarely whole: count with a fraction.",
  "sign": "The size is right, the sign is not. Which way is positive here?",
  "factor 2 pi":
    "Your value is off by 2π. Is it a frequency or an angular frequency, fringes or radians of phase?",
  "round trip":
    "Your value fits the path there and back. The distance is one way.",
};

/** What {@linkcode diagnoseMistake} is told of the exercise. */
export interface DiagnoseMistakeOptions {
  /** The true value, in the unit of the answer. */
  truth: number;
  /** Largest |answer − truth| that still counts as right, same unit. */
  tolerance: number;
  /**
   * Wrong values that the exercise invites, by kind, in the same unit: these
   * are tried first.
   *
   * @default {{}}
   */
  pitfalls?: Partial<Record<MistakeKind, number>>;
}

/**
 * Recognises the kind of mistake from a wrong answer, without giving the true
 * value away.
 *
 * @param answer The wrong answer, in the unit of the truth.
 * @param options The truth, its tolerance, and the pitfalls of the exercise.
 * @returns The mistake, or `null` if the number does not tell.
 *
 * @example
 * ```ts
 * import { diagnoseMistake } from "fringebook";
 * import { expect } from "vitest";
 *
 * const mistake = diagnoseMistake(8e-6, { truth: 4e-6, tolerance: 1e-7 });
 * expect(mistake?.kind).toBe("factor 2");
 * ```
 */
export function diagnoseMistake(
  answer: number,
  options: DiagnoseMistakeOptions,
): Mistake | null {
  const task = "diagnose a mistake";
  requireNumber(answer, "answer", "1", task);
  requireOptionNames(options, ["truth", "tolerance", "pitfalls"], task);
  const { truth, tolerance, pitfalls = {} } = options;
  const relative = Math.max(tolerance / Math.abs(truth), 1e-9);
  const near = (expected: number) =>
    Math.abs(answer - expected) <= relative * Math.abs(expected);
  for (const [kind, value] of Object.entries(pitfalls)) {
    if (near(value)) return mistake(kind as MistakeKind);
  }
  if (near(-truth)) return mistake("sign");
  for (const power of [-12, -9, -6, -3, 3, 6, 9, 12]) {
    if (near(truth * 10 ** power)) return mistake("unit prefix");
  }
  if (near(2 * truth) || near(truth / 2)) return mistake("factor 2");
  if (near(2 * Math.PI * truth) || near(truth / (2 * Math.PI))) {
    return mistake("factor 2 pi");
  }
  return null;
}

function mistake(kind: MistakeKind): Mistake {
  return { kind, hint: hints[kind] };
}
