/**
 * Named errors that a caller may want to catch. Wrong types throw `TypeError`
 * and values out of range throw `RangeError`; these are for the conditions of
 * the trade that have no built-in name.
 *
 * Every message says what, the value, and what to do next.
 *
 * @module
 */
export { CaptureFormatError } from "./capture_format_error.ts";
export { NotMeasurableError } from "./not_measurable_error.ts";
export type { CaptureFormatErrorDetails } from "./capture_format_error.ts";
