/**
 * Linear and nonlinear least squares, and distributions.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../fit/mod.ts";
