import type { BenchDraw, Family } from "./bench.ts";
import type { Picture } from "./picture.ts";

/**
 * - `right`: within a tenth of a fringe (a speed: 1 %), or refused or doubted where
 *   there is nothing to measure;
 * - `within U`: further off, and the stated uncertainty covers it;
 * - `warned`: wrong, and the result says that it is doubtful;
 * - `refused`: no result;
 * - `too slow`: stopped at the limit of CPU time;
 * - `confident`: wrong by more than it states, without a word.
 */
export type Outcome =
  | "right"
  | "within U"
  | "warned"
  | "refused"
  | "too slow"
  | "confident";

/** All outcomes, the best first. */
export const outcomes: readonly Outcome[] = [
  "right",
  "within U",
  "warned",
  "refused",
  "too slow",
  "confident",
];

/** How one side did on one bench. */
export interface Verdict {
  readonly outcome: Outcome;
  /** Error in fringes (a speed: relative error over 1 %); `null` for no result. */
  readonly error: number | null;
  /** Error over the bound of the full chain (1); `null` where not known. */
  readonly overBound: number | null;
  /** Whether the result was marked doubtful. */
  readonly doubted: boolean;
  /** Codes of the warnings that mark it so. */
  readonly warnings: readonly string[];
  /** CPU time, in s. */
  readonly cpu: number;
  /** Why it gave up, or what it crashed with; `null` for a result. */
  readonly reason: string | null;
}

/** One stated interval and the truth. */
export interface Interval {
  readonly value: number;
  readonly truth: number;
  readonly u: number;
  /** Whether the 95 % interval holds the truth; `null` where u is not determined. */
  readonly holds: boolean | null;
}

/** How a displacement goes wrong. */
export interface CourseFaults {
  /** Times that its error moves to another whole number of fringes. */
  readonly slips: number;
  /** Share of the way that is read in the wrong sense (1). */
  readonly reversed: number;
}

/** A bench of the zoo with the verdicts on both sides: a line of the JSON. */
export interface ZooRecord {
  readonly name: string;
  readonly family: Family | "grid" | "joint";
  readonly motion: string;
  readonly feedbackClass: string;
  readonly noiseClass: string;
  readonly samples: number;
  /** What was drawn, for a reader. */
  readonly draw: Partial<BenchDraw>;
  readonly ours: Verdict;
  readonly scipy: Verdict | null;
  readonly intervals: Readonly<Record<string, Interval>>;
  /** Share of samples of a displacement whose interval holds the truth (1). */
  readonly samplesHeld: number | null;
  /** How a displacement goes wrong; `null` for others and without a result. */
  readonly course: CourseFaults | null;
  /** Hops planted and found on ramps. */
  readonly hops: { readonly planted: number; readonly found: number } | null;
  /** CPU time of simulation and bound, in s. */
  readonly making: number;
  /** For the page; not in the JSON. */
  readonly picture: Picture | null;
}
