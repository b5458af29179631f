/**
 * What kind of measurement a capture is, with the evidence for it.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../explore/mod.ts";
