/**
 * Calibration records, their signatures and certificates.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../record/mod.ts";
