/**
 * One hand-in: copied, run in a process of its own with limits that the system
 * keeps, its answers read. Nothing that a hand-in does reaches the marker.
 *
 * @module
 */
export { cellHashes } from "./cell_hashes.ts";
export { completeLimits, defaultLimits, type HandInLimits } from "./limits.ts";
export { recordedAnswers } from "./recorded_answers.ts";
export {
  type HandInRun,
  removeOldCopies,
  runHandIn,
  type RunHandInOptions,
} from "./run_hand_in.ts";
