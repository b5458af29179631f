import { CaptureFormatError } from "../../errors/mod.ts";
import { warn, type Warning } from "../../result/mod.ts";
import type { ByteSource } from "../file/byte_source.ts";
import type { OpenedBinary } from "../file/opened_file.ts";
import { place } from "../place.ts";
import { integerLimits, sampleSize, type SampleType } from "./sample_type.ts";

/** How a file of bare numbers is laid out; the caller must say. */
export interface RawLayoutOptions {
  /** How each sample is stored. */
  type: SampleType;
  /**
   * Least significant byte first.
   *
   * @default {true}
   */
  littleEndian?: boolean;
  /**
   * Number of channels.
   *
   * @default {1}
   */
  channelCount?: number;
  /**
   * Whether channels take turns sample by sample; otherwise each channel is
   * stored whole, one after the other.
   *
   * @default {true}
   */
  interleaved?: boolean;
  /**
   * Bytes to skip at the start.
   *
   * @default {0}
   */
  headerSize?: number;
}

/** Opens a file of bare numbers. */
export function openRaw(
  source: ByteSource,
  fileName: string | null,
  options: RawLayoutOptions,
): OpenedBinary {
  const {
    type,
    littleEndian = true,
    channelCount = 1,
    interleaved = true,
    headerSize = 0,
  } = options;
  const size = sampleSize[type];
  if (size === undefined) {
    throw new RangeError(
      `Cannot read raw samples as 'type' is '${type}': known are ${
        Object.keys(sampleSize).join(", ")
      }`,
    );
  }
  for (
    const [name, value, least] of [
      ["channelCount", channelCount, 1],
      ["headerSize", headerSize, 0],
    ] as const
  ) {
    if (!Number.isSafeInteger(value) || value < least) {
      throw new RangeError(
        `Cannot read raw samples as '${name}' must be a whole number of at least ${least}: current value is ${value}`,
      );
    }
  }
  const available = source.size - headerSize;
  const frame = size * channelCount;
  const sampleCount = Math.max(0, Math.floor(available / frame));
  if (sampleCount === 0) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } as raw samples as ${available} bytes hold no sample of ${frame} bytes`,
      { fileName, byteOffset: headerSize },
    );
  }
  const warnings: Warning[] = available % frame === 0 ? [] : [warn(
    "truncated",
    `The file ends inside a sample: its last ${
      available % frame
    } bytes were left out. Check 'type', 'channelCount' and 'headerSize'`,
  )];
  return {
    format: "raw binary",
    variant: `${type} ${
      littleEndian ? "little" : "big"
    }-endian, ${channelCount} channels`,
    channels: Array.from({ length: channelCount }, (_, index) => ({
      name: `channel ${index + 1}`,
      unit: "1",
      scale: 1,
      fullScale: integerLimits(type),
      role: null,
    })),
    samplingRate: null,
    startTime: null,
    metadata: {},
    assumptions: [],
    warnings,
    sampleCount,
    source,
    layouts: Array.from({ length: channelCount }, (_, index) => ({
      type,
      littleEndian,
      offset: headerSize + index * (interleaved ? size : size * sampleCount),
      stride: interleaved ? frame : size,
    })),
    timeChannel: null,
  };
}
