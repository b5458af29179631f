/**
 * Notebook files: reading and saving, running without a browser, and pages
 * that need nothing but themselves. Knows nothing of lasers.
 *
 * @module
 */
export {
  cellTags,
  joinText,
  type Notebook,
  type NotebookCell,
  type NotebookOutput,
  type NotebookText,
  splitText,
} from "./notebook.ts";
export { createCell, parseNotebook, readNotebook } from "./read_notebook.ts";
export { formatNotebook, writeNotebook } from "./write_notebook.ts";
export { SaveError, writeWhole, type WriteWholeOptions } from "../files/mod.ts";
export { injectParameters, parseParameter } from "./parameters.ts";
export { longestStream, OutputCollector } from "./collect_outputs.ts";
export { runNotebook } from "./run_notebook.ts";
export type {
  CellFailure,
  CellReport,
  CellStatus,
  NotebookRun,
  RunOptions,
  RunProgress,
  RunWork,
} from "./run_types.ts";
export {
  type ImageSource,
  type LinkTarget,
  type PageOptions,
  pageStyle,
  renderPage,
} from "./page/mod.ts";
export {
  type NotebookOutcome,
  runMany,
  type RunManyOptions,
  shardOf,
} from "./run_many.ts";
export { type RunSummary, runSummary } from "./run_summary.ts";
