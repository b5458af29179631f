/**
 * Files that are whole or not there: written in one step, or growing by lines;
 * what killed runs left is removed. Knows nothing of what stands in them.
 *
 * @module
 */
export { removeLeftovers, temporaryName } from "./leftovers.ts";
export { LineFile, type LineFileOptions } from "./line_file.ts";
export { SaveError } from "./save_error.ts";
export { writeNew } from "./write_new.ts";
export { writeSynced } from "./write_synced.ts";
export { writeWhole, type WriteWholeOptions } from "./write_whole.ts";
