/**
 * Least-squares fits and the distributions that go with them. Nothing here
 * knows of lasers.
 *
 * @module
 */
export {
  chiSquareProbability,
  chiSquareQuantile,
  fisherProbability,
  normalProbability,
  normalQuantile,
  studentProbability,
  studentQuantile,
} from "./distributions.ts";
export {
  fitLine,
  type FitLineOptions,
  type LineFit,
  predictLine,
} from "./line.ts";
export { fitLinear, type FitLinearOptions, type LinearFit } from "./linear.ts";
export {
  fitNonlinear,
  type FitNonlinearOptions,
  type Model,
  type NonlinearFit,
  pointwise,
} from "./nonlinear.ts";
export type { FitParameter, ParameterNote, SquareTable } from "./parameter.ts";
export { type MonotoneCubic, monotoneCubic } from "./monotone_cubic.ts";
