import {
  handedOption,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireNumber,
} from "../options/mod.ts";
import type { TypicalMistake } from "./exercises/mod.ts";

/** A recognised mistake and a hint that does not give the answer away. */
export interface Mistake {
  /** What went wrong, in a few words. */
  readonly cause: string;
  /** One plain sentence that helps to find it. */
  readonly hint: string;
}

/** What {@linkcode diagnoseMistake} is told of the exercise. */
export interface DiagnoseMistakeOptions {
  /** The true value, in the unit of the answer. */
  truth: number;
  /** Largest |answer − truth| that still counts as right, same unit. */
  tolerance: number;
  /**
   * What typically goes wrong, with what comes out then, in the same unit.
   *
   * @default {[]}
   */
  mistakes?: readonly TypicalMistake[];
}

export const mistakeSpec = {
  truth: optionOf.finite("The true value, in the unit of the answer."),
  tolerance: optionOf.notNegative(
    "Largest |answer − truth| that still counts as right, same unit.",
  ),
  mistakes: optional(
    handedOption<readonly TypicalMistake[]>(
      "What typically goes wrong, with what comes out then, in the same unit.",
      "a list",
      Array.isArray,
    ),
    [],
  ),
} satisfies Record<keyof DiagnoseMistakeOptions, Option>;

/** Powers of ten that prefixes are apart. */
const prefixes = [-12, -9, -6, -3, 3, 6, 9, 12];

/**
 * Recognises the cause of a wrong answer: the mistake whose value it matches
 * within the tolerance of the exercise, the nearest where several do. Beside the
 * mistakes of the exercise these are a wrong sign and a wrong prefix. No other
 * guess is made: a hint is always true of the number.
 *
 * @param answer The wrong answer, in the unit of the truth.
 * @param options The truth, its tolerance, and the mistakes of the exercise.
 * @returns The mistake, or `null` if the number does not tell.
 *
 * @example
 * ```ts
 * import { diagnoseMistake } from "fringebook/course";
 * import { expect } from "vitest";
 *
 * const mistake = diagnoseMistake(4.01e-3, { truth: 4e-6, tolerance: 4e-8 });
 * expect(mistake?.cause).toBe("a prefix");
 * expect(diagnoseMistake(8e-6, { truth: 4e-6, tolerance: 4e-8 })).toBe(null);
 * ```
 */
export function diagnoseMistake(
  answer: number,
  options: DiagnoseMistakeOptions,
): Mistake | null {
  const task = "diagnose a mistake";
  requireNumber(answer, "answer", "1", task);
  const { truth, tolerance, mistakes } = readOptions(
    mistakeSpec,
    options,
    task,
  );
  const relative = truth === 0
    ? 1e-9
    : Math.max(tolerance / Math.abs(truth), 1e-9);
  const all = [...mistakes, ...(truth === 0 ? [] : everywhere(truth))];
  const apart = ({ value }: TypicalMistake) =>
    value === 0
      ? (Math.abs(answer) <= tolerance ? 0 : Infinity)
      : Math.abs(answer - value) / Math.abs(value);
  const matching = all.filter((each) => apart(each) <= relative)
    .sort((a, b) => apart(a) - apart(b));
  const [nearest] = matching;
  return nearest === undefined
    ? null
    : { cause: nearest.cause, hint: nearest.hint };
}

/** What can go wrong in every exercise. */
function everywhere(truth: number): TypicalMistake[] {
  return [
    {
      cause: "the sign",
      value: -truth,
      hint: "The size is right, the sign is not. Which way is positive here?",
    },
    ...prefixes.map((power) => ({
      cause: "a prefix",
      value: truth * 10 ** power,
      hint: `Your value is 10${raised(Math.abs(power))} times too ${
        power > 0 ? "large" : "small"
      }. Check the prefix of each unit: nm, µm, mm; mA, A; GHz, Hz.`,
    })),
  ];
}

function raised(power: number): string {
  return [...String(power)].map((digit) => "⁰¹²³⁴⁵⁶⁷⁸⁹"[Number(digit)]).join(
    "",
  );
}
