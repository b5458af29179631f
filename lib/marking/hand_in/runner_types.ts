import type { GivenAnswer } from "../mark_answer.ts";
import type { HandInLimits } from "./limits.ts";

/** What a runner is told. */
export interface RunnerSettings {
  /** The notebook, in the copy of the hand-in. */
  readonly path: string;
  /** Where the executed notebook goes. */
  readonly executedPath: string;
  /** Files and folders that the hand-in may neither read nor write. */
  readonly withheld: readonly string[];
  readonly limits: HandInLimits;
}

/** What a runner says. */
export interface RunnerResult {
  /** How it ran, in one line. */
  readonly run: string;
  /** Whether every cell ran well. */
  readonly complete: boolean;
  /** Answers by the name of the question. */
  readonly answers: Readonly<Record<string, GivenAnswer>>;
  /** What tells the code cells from others; see {@linkcode cellHashes}. */
  readonly cells: readonly string[];
}
