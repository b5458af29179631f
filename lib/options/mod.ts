/**
 * The edge of the public functions: one description per option, read once at the
 * top of a function; arguments of the wrong kind refused in words. Knows the names
 * of the bench, but computes nothing.
 *
 * @module
 */
export {
  described,
  type Option,
  optional,
  type OptionSpec,
  type ReadOptions,
} from "./option.ts";
export { type QuantityDescription, quantityOption } from "./quantity_option.ts";
export {
  choiceOption,
  flagOption,
  functionOption,
  groupOption,
  handedOption,
  listOption,
  type Measured,
  measuredOption,
  modelOption,
  perPointOption,
  textOption,
  wholeNumberOption,
} from "./plain_options.ts";
export { pickOptions, readOptions } from "./read_options.ts";
export * from "./bench_options.ts";
export { streamRunOptions } from "./stream_options.ts";
export {
  type DataForm,
  isCaptureLike,
  requireCapture,
  requireFields,
  requireForm,
  requireFunction,
  requireList,
  requireNumber,
  requireNumbers,
  requireRecords,
  requireResult,
  requireStream,
  requireText,
} from "./arguments.ts";
export { inWords, isPromise } from "./in_words.ts";
export { nearestName } from "./nearest_name.ts";
export { inputsOf, labelOf } from "./inputs.ts";
