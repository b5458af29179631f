/**
 * Random numbers, Fourier transforms, windows, spectra and filters.
 *
 * @module
 */
import "../display/mod.ts";

export * from "../signal/mod.ts";
