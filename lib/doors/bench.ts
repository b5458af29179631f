/**
 * Diode, amplifier, link, plan and safety, with what they are made of.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../bench/mod.ts";
