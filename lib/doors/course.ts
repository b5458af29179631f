/**
 * Comparison with the truth, exercises and answers.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../course/mod.ts";
