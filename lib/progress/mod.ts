/**
 * Checkpoints in long computations: where progress is told and where a person's
 * interrupt is heard. Knows nothing of who listens.
 *
 * @module
 */
export {
  checkpoint,
  type CheckpointHandler,
  setCheckpointHandler,
} from "./checkpoint.ts";
