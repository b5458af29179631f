/**
 * Ramps, steps, tuning and distance, with what they are made of.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../range/mod.ts";
