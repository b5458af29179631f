/**
 * Many captures measured one after the other: their outcomes read again and
 * summed up.
 *
 * @module
 */
export type { BatchGroup } from "./batch_group.ts";
export type { BatchRow } from "./batch_rows.ts";
export type { FileOutcome } from "./file_outcome.ts";
export type { BatchConflict } from "./join_outcomes.ts";
export { type Batch, readBatch } from "./read_batch.ts";
export {
  type BatchSummary,
  type BatchWarningCount,
  summariseBatch,
  type SummariseBatchOptions,
} from "./summarise_batch.ts";
export {
  type ComparableRun,
  type ComparedRun,
  compareRuns,
  type CompareRunsOptions,
  type RunComparison,
} from "./compare_runs.ts";
