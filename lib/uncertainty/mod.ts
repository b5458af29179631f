/**
 * Uncertainty: input quantities with their distributions and correlations,
 * linear and Monte Carlo propagation from one model function, budgets, and the
 * index of air.
 *
 * @module
 */
export {
  type AirConditions,
  type AirIndex,
  airIndex,
  type AirIndexOptions,
  type AirState,
} from "./air_index.ts";
export type { InputCorrelation } from "./correlation.ts";
export {
  type Distribution,
  type UncertainInput,
  uncertainInput,
  type UncertainInputOptions,
} from "./input.ts";
export type { MonteCarloSummary } from "./monte_carlo.ts";
export {
  type BudgetLine,
  type MeasurementModel,
  propagateUncertainty,
  type PropagateUncertaintyOptions,
  type UncertaintyBudget,
} from "./propagate.ts";
export { type ReadingStatistics, readingStatistics } from "./readings.ts";
export { wholeCountUncertainty } from "./whole_count.ts";
