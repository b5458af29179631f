/**
 * Captures: samples of one or more channels, where they come from, and how good
 * they are.
 *
 * @module
 */
export {
  type Capture,
  type CaptureSource,
  type Channel,
  type ChannelInput,
  type ChannelRole,
  createCapture,
  type CreateCaptureOptions,
  type Samples,
} from "./capture.ts";
export { findChannel, requireChannel } from "./channel.ts";
export type { ChannelOptions, ReadCaptureOptions } from "./options.ts";
export { parseCapture, readCapture } from "./read_capture.ts";
export { recogniseRole } from "./role.ts";
export type { Delimiter } from "./text/sniff.ts";
export {
  type ParsedUnit,
  parseQuantity,
  parseUnit,
  splitHeading,
} from "./unit.ts";
