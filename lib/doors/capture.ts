/**
 * Captures with their units, file forms, streams and instruments.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../capture/mod.ts";
