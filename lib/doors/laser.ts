/**
 * The excess-phase equation and the simulator.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../laser/mod.ts";
