import { nearestName, requireRecords } from "../options/mod.ts";
import type { Result, Shown } from "../result/mod.ts";

/** A question as the notebook at work asks it. */
export interface AskedQuestion {
  /** Name, such as `"distance"`. */
  readonly name: string;
  /**
   * SI unit of a number that is asked for, without prefix; left out for a choice.
   */
  readonly unit?: string;
  /** The letters of a choice; left out for a number. */
  readonly choices?: readonly string[];
}

/** What every recorded answer has. */
export interface Recorded extends Result {
  /** Name of the question. */
  readonly question: string;
}

/** Questions of the notebook at work; empty where it does not say them. */
let asked: ReadonlyMap<string, AskedQuestion> = new Map();

/** The last answer to each question. */
export const recorded = new Map<string, Recorded & Shown>();

/**
 * Says which questions a notebook asks, so that {@linkcode recordAnswer} and
 * {@linkcode recordChoice} refuse a name that is misspelt, a unit that does not
 * fit and a letter that is no choice. {@linkcode openHandout} calls it.
 *
 * @param questions Names with units or choices.
 * @returns The names.
 *
 * @example
 * ```ts
 * import { askQuestions, recordAnswer } from "fringebook";
 * import { expect } from "vitest";
 *
 * askQuestions([{ name: "speed", unit: "m/s" }]);
 * expect(() => recordAnswer("sped", { value: 1, unit: "m/s" })).toThrow(
 *   "did you mean 'speed'?",
 * );
 * expect(recordAnswer("speed", { value: 49.7, unit: "mm/s" }).question).toBe(
 *   "speed",
 * );
 * askQuestions([]);
 * ```
 */
export function askQuestions(questions: readonly AskedQuestion[]): string[] {
  requireRecords(questions, "questions", ["name"], "ask questions");
  asked = new Map(questions.map((each) => [each.name, each]));
  return [...asked.keys()];
}

/**
 * The question that is answered; `null` where the notebook does not say what it
 * asks.
 *
 * @throws {RangeError} If it says so, and there is no such question.
 */
export function askedQuestion(name: string): AskedQuestion | null {
  const question = asked.get(name);
  if (question !== undefined) return question;
  if (asked.size === 0) return null;
  const names = [...asked.keys()];
  const near = nearestName(name, names);
  throw new RangeError(
    `Cannot record an answer to '${name}' as there is no such question${
      near === null ? "" : `: did you mean '${near}'?`
    } The questions are ${names.join(", ")}`,
  );
}
