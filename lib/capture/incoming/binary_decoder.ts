import { decodeSamples } from "../binary/decode_samples.ts";
import { rateOfHead } from "../binary/capture_of_binary.ts";
import { openRaw } from "../binary/open_raw.ts";
import { sampleSize } from "../binary/sample_type.ts";
import { memorySource } from "../file/byte_source.ts";
import type { OpenedBinary } from "../file/opened_file.ts";
import { type ChannelPlan, planChannels } from "../make_channels.ts";
import type { ReadCaptureOptions } from "../options.ts";
import { scaleRange } from "../scale.ts";
import { openWav } from "../wav/open_wav.ts";
import type {
  ByteDecoder,
  DecodedSamples,
  IncomingHead,
} from "./byte_decoder.ts";

/** Longest head of a WAV file that is waited for, in bytes. */
const longestHead = 1 << 20;
/** Sizes of the data from here on are those of recorders that do not know. */
const unknownSize = 0x7fff0000;

/** Decodes WAV and bare numbers; what is left of a frame waits for the rest. */
export class BinaryDecoder implements ByteDecoder {
  readonly #options: ReadCaptureOptions;
  #head: IncomingHead | null = null;
  #opened: OpenedBinary | null = null;
  #plans: readonly ChannelPlan[] = [];
  #rest = new Uint8Array(0);
  /** Bytes of the samples that are still to come. */
  #left = Infinity;

  constructor(options: ReadCaptureOptions) {
    this.#options = options;
  }

  get head(): IncomingHead | null {
    return this.#head;
  }

  push(bytes: Uint8Array): DecodedSamples {
    let all = bytes;
    if (this.#rest.length > 0) {
      all = new Uint8Array(this.#rest.length + bytes.length);
      all.set(this.#rest);
      all.set(bytes, this.#rest.length);
    }
    if (this.#opened === null) {
      const start = this.#open(all);
      if (start === null) {
        this.#rest = all.slice();
        return { samples: [], garbage: 0 };
      }
      all = all.subarray(start);
    }
    if (all.length > this.#left) all = all.subarray(0, this.#left);
    const { layouts } = this.#opened!;
    const stride = layouts[0]!.stride;
    const first = Math.min(...layouts.map(({ offset }) => offset));
    const count = Math.floor(all.length / stride);
    const samples = this.#plans.map(({ zero, factor }, channel) => {
      const layout = layouts[channel]!;
      const target = new Float64Array(count);
      decodeSamples(all, layout.offset - first, layout, target, 0, count);
      scaleRange(target, 0, count, zero, factor);
      return target;
    });
    this.#left -= count * stride;
    this.#rest = all.slice(count * stride);
    return { samples, garbage: 0 };
  }

  /** Reads the head; gives where the samples begin, `null` where it waits. */
  #open(bytes: Uint8Array): number | null {
    const { raw } = this.#options;
    let opened: OpenedBinary;
    if (raw !== undefined) {
      const { headerSize = 0, interleaved = true, channelCount = 1 } = raw;
      if (!interleaved && channelCount > 1) {
        throw new RangeError(
          "Cannot take samples as they come where 'interleaved' is false: the second channel would begin after the end of the first",
        );
      }
      const frame = sampleSize[raw.type] * channelCount;
      if (bytes.length < headerSize + frame) return null;
      opened = openRaw(memorySource(bytes), null, raw);
    } else {
      try {
        opened = openWav(memorySource(bytes), null);
      } catch (error) {
        if (bytes.length < longestHead) return null;
        throw error;
      }
    }
    const { plans } = planChannels(
      opened.channels,
      this.#options.channels ?? {},
    );
    const samplingRate = rateOfHead(opened, this.#options, null, []);
    this.#opened = opened;
    this.#plans = plans;
    this.#head = { format: opened.format, samplingRate, channels: plans };
    const start = Math.min(...opened.layouts.map(({ offset }) => offset));
    if (raw === undefined) {
      const size = new DataView(bytes.buffer, bytes.byteOffset)
        .getUint32(start - 4, true);
      if (size > 0 && size < unknownSize) this.#left = size;
    }
    return start;
  }
}
