import { memorySource } from "../file/byte_source.ts";
import { type ChannelPlan, planChannels } from "../make_channels.ts";
import type { ReadCaptureOptions } from "../options.ts";
import { parseField } from "../text/field.ts";
import { splitLine } from "../text/lines.ts";
import { type OpenedText, openText } from "../text/open_text.ts";
import { textRateOfHead } from "../text/text_blocks.ts";
import type {
  ByteDecoder,
  DecodedSamples,
  IncomingHead,
} from "./byte_decoder.ts";

/** Lines from which the layout is told. */
const linesLookedAt = 8;
/** Longest head that is waited for, in bytes. */
const longestHead = 1 << 20;
/** Longest line, in bytes: what is longer is no line of numbers. */
const longestLine = 1 << 16;

/** Decodes lines of numbers as a scope, a logger or a serial line sends them. */
export class TextDecoderOfLines implements ByteDecoder {
  readonly #options: ReadCaptureOptions;
  readonly #decoder = new TextDecoder();
  #head: IncomingHead | null = null;
  #opened: OpenedText | null = null;
  #plans: readonly ChannelPlan[] = [];
  /** Bytes of the head, or the half line at the end. */
  #rest = "";

  constructor(options: ReadCaptureOptions) {
    this.#options = options;
  }

  get head(): IncomingHead | null {
    return this.#head;
  }

  push(bytes: Uint8Array): DecodedSamples {
    const text = this.#rest + this.#decoder.decode(bytes, { stream: true });
    const end = text.lastIndexOf("\n") + 1;
    if (this.#opened === null) {
      this.#rest = text;
      const start = this.#open(text.slice(0, end));
      return start === null
        ? { samples: [], garbage: 0 }
        : this.#rows(text.slice(start));
    }
    return this.#rows(text);
  }

  /** Finds the layout; gives where the rows begin, `null` where it waits. */
  #open(text: string): number | null {
    if (text.split("\n").length <= linesLookedAt) return null;
    const source = memorySource(new TextEncoder().encode(text));
    let opened: OpenedText;
    let samplingRate: number;
    try {
      opened = openText(source, this.#options, null);
      samplingRate = textRateOfHead(source, opened, this.#options, null, []);
    } catch (error) {
      // The first lines may be those of a device that has just begun
      if (text.split("\n").length < 64 && text.length < longestHead) {
        return null;
      }
      throw error;
    }
    if (opened.rowTable !== null) {
      throw new RangeError(
        "Cannot take samples as they come where each line is a channel: give one line per sample",
      );
    }
    const { plans } = planChannels(
      opened.channels,
      this.#options.channels ?? {},
    );
    this.#opened = opened;
    this.#plans = plans;
    this.#head = { format: opened.format, samplingRate, channels: plans };
    let start = 0;
    for (let line = 1; line < opened.dataLine; line++) {
      start = text.indexOf("\n", start) + 1;
    }
    return start;
  }

  #rows(text: string): DecodedSamples {
    const lines = text.split("\n");
    this.#rest = lines.pop()!;
    let garbage = 0;
    if (this.#rest.length > longestLine) {
      this.#rest = "";
      garbage++;
    }
    const { layout, channelColumns } = this.#opened!;
    const delimiter = String.fromCharCode(layout.delimiter);
    const samples = this.#plans.map(() => new Float64Array(lines.length));
    let count = 0;
    for (const line of lines) {
      if (line.trim() === "") continue;
      const fields = splitLine(line, delimiter);
      let isWhole = fields.length >= layout.fieldCount;
      this.#plans.forEach(({ zero, factor }, channel) => {
        const field = fields[channelColumns[channel]!];
        const number = field === undefined
          ? undefined
          : parseField(field, layout);
        if (number === undefined) isWhole = false;
        samples[channel]![count] = number === undefined
          ? NaN
          : (number - zero) * factor;
      });
      if (!isWhole) {
        garbage++;
        for (const values of samples) values[count] = NaN;
      }
      count++;
    }
    return {
      samples: samples.map((values) => values.subarray(0, count)),
      garbage,
    };
  }
}
