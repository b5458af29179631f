import { largePages } from "../../memory/mod.ts";
import type { Samples } from "../capture.ts";
import type { OpenedBinary } from "../file/opened_file.ts";
import { hostLittleEndian, sampleArrays } from "./decode_samples.ts";
import { type SampleLayout, sampleSize } from "./sample_type.ts";

/** Whether a channel's numbers of the file are already those wanted. */
export function isUnscaled(
  file: OpenedBinary,
  at: number,
  scale: number,
): boolean {
  return scale === 1 && (file.channels[at]!.zero ?? 0) === 0;
}

/**
 * Array for a channel: single precision where the file holds that and nothing
 * is scaled, double precision otherwise.
 */
export function arrayFor(
  { type }: SampleLayout,
  unscaled: boolean,
  count: number,
): Samples {
  return largePages(
    type === "float32" && unscaled
      ? new Float32Array(count)
      : new Float64Array(count),
  );
}

/** Whether the samples lie one after another as this machine stores them. */
export function isStoredAsWanted(layout: SampleLayout): boolean {
  const { type, littleEndian, stride } = layout;
  return (type === "float64" || type === "float32") &&
    stride === sampleSize[type] && littleEndian === hostLittleEndian;
}

/** A view of samples in memory, or `null` where they are not aligned. */
export function viewSamples(
  bytes: Uint8Array,
  { type }: SampleLayout,
): Samples | null {
  const size = sampleSize[type];
  if (bytes.byteOffset % size !== 0) return null;
  return new sampleArrays[type as "float32" | "float64"](
    bytes.buffer as ArrayBuffer,
    bytes.byteOffset,
    Math.floor(bytes.length / size),
  );
}
