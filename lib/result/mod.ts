/**
 * The form that every result of the project has: value, uncertainty,
 * diagnostics, warnings, provenance. Knows nothing of notebooks or plots.
 *
 * @module
 */
export { createResult, isResult, type Result, type Shown } from "./result.ts";
export { inDigits } from "./in_digits.ts";
export { type Quantity, quantity, type QuantityOptions } from "./quantity.ts";
export { warn, type Warning, type WarningSeverity } from "./warning.ts";
export {
  libraryVersion,
  type Provenance,
  provenance,
  type ProvenanceInput,
  type ResultInput,
} from "./provenance.ts";
export {
  type Presenter,
  presenterFor,
  registerPresenter,
  setResultDisplay,
} from "./presentation.ts";
export type {
  Report,
  ReportFigure,
  ReportHeadline,
  ReportRow,
} from "./report.ts";
export type { ResultDisplay } from "./presentation.ts";
