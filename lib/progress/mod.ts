/**
 * Checkpoints in long computations: where progress is told and where a person's
 * interrupt is heard, and what was finished before it. Knows nothing of who listens.
 *
 * @module
 */
export {
  checkpoint,
  type CheckpointHandler,
  setCheckpointHandler,
} from "./checkpoint.ts";
export { expectedWork, expectWork } from "./expected.ts";
export { finishedParts, keepFinished } from "./finished.ts";
