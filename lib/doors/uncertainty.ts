/**
 * Propagation, Monte Carlo, budgets and the index of air.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../uncertainty/mod.ts";
