/**
 * Fringes, displacement, vibration and ring-down, with what they are made of.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../motion/mod.ts";
