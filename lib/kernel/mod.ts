/**
 * The kernel: protocol core, transports, installation. Knows nothing of lasers.
 *
 * @module
 */
export * from "./protocol/mod.ts";
export * from "./transport/mod.ts";
export type {
  DefaultReach,
  DrawingDesk,
  GrantKind,
  Grants,
  PictureParts,
  SessionOptions,
} from "./session/mod.ts";
export type { ProcessLimits, SystemMeans } from "./confine/mod.ts";
