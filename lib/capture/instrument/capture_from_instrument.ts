import {
  handedOption,
  type Option,
  optional,
  readOptions,
  requireFields,
  requireText,
} from "../../options/mod.ts";
import type { Shown } from "../../result/mod.ts";
import { decodeSamples } from "../binary/decode_samples.ts";
import { integerLimits, sampleSize } from "../binary/sample_type.ts";
import { type Capture, type ChannelInput, createCapture } from "../capture.ts";
import {
  connectInstrument,
  type ConnectOptions,
  connectSpec,
  type InstrumentConnection,
} from "./connection.ts";
import {
  genericScpi,
  type InstrumentChannel,
  type InstrumentDescription,
  type NumberOrQuery,
} from "./description.ts";
import { InstrumentError } from "./instrument_error.ts";

/** Options of {@linkcode captureFromInstrument}. */
export interface InstrumentCaptureOptions extends ConnectOptions {
  /**
   * What to say to the instrument.
   *
   * @default {genericScpi}
   */
  description?: InstrumentDescription;
}

export const instrumentSpec = {
  ...connectSpec,
  description: optional(
    handedOption<InstrumentDescription>(
      "What to say to the instrument.",
      "a description such as genericScpi",
      (value) => typeof value === "object" && value !== null,
    ),
    undefined,
    "genericScpi",
  ),
} satisfies Record<keyof InstrumentCaptureOptions, Option>;

/**
 * Takes one capture from an instrument over TCP: set up, acquire, wait, read
 * each channel, ask for errors.
 *
 * @param host Name or address of the instrument.
 * @param options Description, port, timeout in s, size limit.
 * @returns The capture, in SI units; the instrument's identity stands in its
 * metadata.
 * @throws {InstrumentError} If the instrument is not allowed, does not answer,
 * answers nonsense, or reports an error.
 *
 * @example
 * ```ts
 * import { captureFromInstrument } from "fringebook";
 * import { expect } from "vitest";
 *
 * const refused = await captureFromInstrument("bench.example", {
 *   ask: () => Promise.resolve(false),
 * }).catch((error) => error);
 * expect(refused.reason).toBe("not allowed");
 * ```
 */
export async function captureFromInstrument(
  host: string,
  options: InstrumentCaptureOptions = {},
): Promise<Capture & Shown> {
  const task = "take a capture";
  requireText(host, "host", task);
  readOptions(instrumentSpec, options, task);
  const { description = genericScpi, ...connect } = options;
  const instrument = await connectInstrument(host, {
    port: description.port,
    ...connect,
  });
  try {
    return await readAcquisition(instrument, description);
  } finally {
    instrument[Symbol.dispose]();
  }
}

/**
 * Takes one capture over a connection that stays open: set up, acquire, wait, read
 * each channel, ask for errors.
 *
 * @param instrument The connection, from `connectInstrument`.
 * @param description What to say to the instrument.
 * @returns The capture, in SI units.
 * @throws {InstrumentError} If it does not answer, answers nonsense, or reports an
 * error.
 *
 * @example
 * ```ts
 * import {
 *   connectInstrument,
 *   genericScpi,
 *   readAcquisition,
 * } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * async function takeTwo(host: string): Promise<number> {
 *   using instrument = await connectInstrument(host);
 *   const first = await readAcquisition(instrument, genericScpi);
 *   const second = await readAcquisition(instrument, genericScpi);
 *   return first.sampleCount + second.sampleCount;
 * }
 * expect(typeof takeTwo).toBe("function");
 * ```
 */
export async function readAcquisition(
  instrument: InstrumentConnection,
  description: InstrumentDescription,
): Promise<Capture & Shown> {
  const task = "take a capture";
  requireFields(instrument, "instrument", ["query", "command"], task);
  requireFields(description, "description", ["setup", "channels"], task);
  const identity = await instrument.query("*IDN?");
  for (const command of description.setup) await instrument.command(command);
  for (const command of description.acquire) {
    await instrument.command(command);
  }
  if (description.complete !== null) {
    await instrument.query(description.complete);
  }
  const startTime = new Date().toISOString();
  const interval = await numberOf(instrument, description.sampleInterval);
  if (!(interval > 0 && Number.isFinite(1 / interval))) {
    throw new InstrumentError(
      "bad answer",
      `The instrument says that its sample interval is ${interval} s`,
    );
  }
  const channels: ChannelInput[] = [];
  for (const channel of description.channels) {
    channels.push(await readChannel(instrument, channel));
  }
  await refuseErrors(instrument, description.error);
  const count = channels[0]!.samples.length;
  const odd = channels.find(({ samples }) => samples.length !== count);
  if (odd !== undefined) {
    throw new InstrumentError(
      "bad answer",
      `Channel '${odd.name}' has ${odd.samples.length} samples but '${
        channels[0]!.name
      }' has ${count}`,
    );
  }
  return createCapture(channels, {
    samplingRate: 1 / interval,
    startTime,
    metadata: {
      instrument: identity.slice(0, 1000),
      description: description.name,
    },
    source: { fileName: null, sha256: null, format: "instrument" },
  });
}

async function numberOf(
  instrument: InstrumentConnection,
  value: NumberOrQuery,
): Promise<number> {
  if (typeof value === "number") return value;
  const answer = await instrument.query(value.query);
  const number = answer === "" ? NaN : Number(answer);
  if (!Number.isFinite(number)) {
    throw new InstrumentError(
      "bad answer",
      `The answer to '${value.query}' is no number: '${answer.slice(0, 60)}'`,
    );
  }
  return number;
}

async function readChannel(
  instrument: InstrumentConnection,
  channel: InstrumentChannel,
): Promise<ChannelInput> {
  const { name, role, unit, select, data, type, littleEndian } = channel;
  for (const command of select) await instrument.command(command);
  const reference = await numberOf(instrument, channel.reference);
  const scale = await numberOf(instrument, channel.scale);
  const offset = await numberOf(instrument, channel.offset);
  const answer = await instrument.queryData(data);
  let samples: Float64Array;
  if (answer.kind === "block") {
    const size = sampleSize[type];
    const { bytes } = answer;
    if (bytes.length === 0 || bytes.length % size !== 0) {
      throw new InstrumentError(
        "bad block",
        `The answer to '${data}' has ${bytes.length} bytes, which are no whole number of ${type} samples. Check 'type' in the description`,
      );
    }
    samples = new Float64Array(bytes.length / size);
    const layout = { type, littleEndian, offset: 0, stride: size };
    decodeSamples(bytes, 0, layout, samples, 0, samples.length);
  } else {
    samples = numbersOf(new TextDecoder().decode(answer.bytes), data);
  }
  for (let index = 0; index < samples.length; index++) {
    samples[index] = (samples[index]! - reference) * scale + offset;
  }
  const limits = answer.kind === "block" ? integerLimits(type) : null;
  const edge = (count: number) => (count - reference) * scale + offset;
  return {
    name,
    role,
    unit,
    samples,
    scale,
    fullScale: limits === null ? null : {
      low: Math.min(edge(limits.low), edge(limits.high)),
      high: Math.max(edge(limits.low), edge(limits.high)),
    },
  };
}

/** Numbers as text; 9.9E37 stands for not a number (SCPI-1999, 7.2.1.5). */
function numbersOf(text: string, asked: string): Float64Array {
  const cells = text.trim().split(/\s*[,;\s]\s*/);
  return Float64Array.from(cells, (cell) => {
    const value = cell === "" ? NaN : Number(cell);
    if (Number.isNaN(value) && !/^nan$/i.test(cell)) {
      throw new InstrumentError(
        "bad answer",
        `The answer to '${asked}' has '${
          cell.slice(0, 40)
        }' where a number belongs`,
      );
    }
    return Math.abs(value) >= 9.9e37 ? NaN : value;
  });
}

async function refuseErrors(
  instrument: InstrumentConnection,
  query: string | null,
): Promise<void> {
  if (query === null) return;
  const errors: string[] = [];
  for (let count = 0; count < 20; count++) {
    const answer = await instrument.query(query);
    if (/^[+-]?0*(,|$)/.test(answer)) break;
    errors.push(answer.slice(0, 100));
  }
  if (errors.length > 0) {
    throw new InstrumentError(
      "instrument error",
      `The instrument reports: ${errors.join("; ")}`,
    );
  }
}
