/**
 * The kernel: protocol core, transports, installation. Knows nothing of lasers.
 *
 * @module
 */
export * from "./protocol/mod.ts";
export * from "./transport/mod.ts";
