/**
 * Values in order of size, without sorting all of them. Knows nothing of what they
 * are.
 *
 * @module
 */
export { select } from "./select.ts";
