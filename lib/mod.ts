/**
 * Fringebook: the notebook bench for self-mixing interferometry.
 *
 * @module
 */
export * from "./errors/mod.ts";
export * from "./result/mod.ts";
export * from "./progress/mod.ts";
export * from "./capture/mod.ts";
export * from "./signal/mod.ts";
export * from "./fit/mod.ts";
export * from "./course/mod.ts";
export * from "./laser/mod.ts";
export * from "./motion/mod.ts";
export * from "./speed/mod.ts";
export * from "./display/mod.ts";
export * from "./batch/mod.ts";
export * from "./explore/mod.ts";
export * from "./datasets/mod.ts";
export * from "./range/mod.ts";
export * from "./uncertainty/mod.ts";
export * from "./record/mod.ts";
export * from "./bench/mod.ts";
