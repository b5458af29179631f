/**
 * Level: presence of a target, and its distance by the monitor current alone.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../level/mod.ts";
