/**
 * Building blocks of figures: traces, panels with a shared axis, fits, heat
 * maps, bars.
 *
 * @module
 */
export { bandedCourse, type BandedCourseLook } from "./banded_course.ts";
export { budgetBars, type BudgetEntry, budgetFigure } from "./budget_bars.ts";
export { fitPanels, type FitPanelsInput } from "./fit_panels.ts";
export { harmonicsFigure, type HarmonicsLook } from "./harmonics_figure.ts";
export { heatMap, heatMapAxis } from "./heat_map.ts";
export { type BandedLine, lineBand } from "./line_band.ts";
export {
  logarithmic,
  type Overview,
  type Panel,
  stackPanels,
  type StackPanelsOptions,
  uprightLabel,
  uprights,
} from "./panels.ts";
export { envelope, legibleStretch, type Stretch } from "./stretch.ts";
export { traceSlider } from "./slider.ts";
export {
  band,
  curve,
  marks,
  type PlotlyTrace,
  sampleLine,
  type TraceStyle,
} from "./trace.ts";
export { withinScatter } from "./within_scatter.ts";
