/**
 * How results show themselves: numbers with units and uncertainty, reports as
 * text, HTML, Markdown and JSON, figures and their static pictures, tables,
 * progress.
 *
 * @module
 */
import { setResultDisplay } from "../result/mod.ts";
import type { Result } from "../result/mod.ts";
import { toDataFrame } from "./data_frame.ts";
import { printText } from "./print_text.ts";
import { resultBundle, resultFigure } from "./result_bundle.ts";

import { shownReport } from "./shown_report.ts";
import "./presenters/mod.ts";

export { type ShownAxis, shownAxis, signalAxis } from "./axis.ts";
export { type CellOutput, currentCell } from "./cell.ts";
export { type DataFrameLike, showDataFrame } from "./data_frame.ts";
export { display } from "./display.ts";
export { bundleOfKnown, bundleOfValue } from "./value_bundle.ts";
export { escapeHtml, escapeMarkdown, oneLine } from "./escape.ts";
export {
  createFigure,
  type Figure,
  type FigureInput,
  isFigure,
} from "./figure.ts";
export {
  drawPicture,
  type DrawPictureOptions,
  type Picture,
} from "./figure_bundle.ts";
export { formatNumber, type FormatNumberOptions } from "./format_number.ts";
export {
  formatQuantity,
  type FormatQuantityOptions,
  type FormattableQuantity,
} from "./format_quantity.ts";
export { libraryKey } from "./figure_library.ts";
export { jsonInScript, pageFigureHtml } from "./page_figure.ts";
export { activateFigures, loadPlotlyScript } from "./page_script.ts";
export { printReport, type PrintReportOptions } from "./print_report.ts";
export { progress, type ProgressOptions } from "./progress.ts";
export { type ShownUnit, shownUnit } from "./si_prefix.ts";
export {
  type Table,
  table,
  type TableOptions,
  type TableRow,
} from "./table.ts";
export {
  recordSeries,
  type RecordSeriesOptions,
  type SeriesStep,
} from "./live/record_series.ts";
export { watch, type WatchOptions } from "./live/watch.ts";
export { reportMimeType } from "./result_bundle.ts";
export { colours } from "./theme.ts";
export { type ThinnedTrace, thinTrace, type ThinTraceOptions } from "./thin.ts";

setResultDisplay({
  bundle: (result) => resultBundle(result as Result),
  text: (result) => printText(shownReport(result as Result)),
  figure: (result, name) => resultFigure(result as Result, name),
  toDataFrame: (result) => toDataFrame(result as Result),
});
export type { Cell } from "./cell.ts";
