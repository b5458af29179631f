/**
 * Values in order of size, with checkpoints; where one place is enough, without
 * sorting all of them. Knows nothing of what they are.
 *
 * @module
 */
export { orderOf, sortValues } from "./sort.ts";
export { select } from "./select.ts";
