/**
 * Values in order of size, with checkpoints; where one place or the ends are
 * enough, without sorting all of them. Knows nothing of what they are.
 *
 * @module
 */
export { extremesOf } from "./extremes.ts";
export { orderOf, sortValues } from "./sort.ts";
export { select } from "./select.ts";
