/**
 * Doppler line, tracking and tachometer, with what they are made of.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../speed/mod.ts";
