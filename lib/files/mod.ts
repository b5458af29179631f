/**
 * Files that are whole or not there: written in one step, or growing by lines;
 * what killed runs left is removed. Knows nothing of what stands in them.
 *
 * @module
 */
export { removeLeftovers, temporaryName } from "./leftovers.ts";
export { LineFile, type LineFileOptions } from "./line_file.ts";
export { SaveError } from "./save_error.ts";
export { writeWhole, type WriteWholeOptions } from "./write_whole.ts";
