/**
 * Outcomes of many captures, read again and summed up.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../batch/mod.ts";
