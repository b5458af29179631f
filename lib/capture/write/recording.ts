import {
  requireFields,
  requireRecords,
  requireText,
} from "../../options/mod.ts";
import { SaveError } from "../../files/mod.ts";
import type { ChannelRole } from "../capture.ts";
import { descriptionMark } from "../description.ts";
import { infoChunk, wavHeader } from "./wav_parts.ts";

/** What a recording holds. */
export interface RecordingOptions {
  /** The channels, in the order of their samples. */
  channels: readonly {
    /** Name of the channel. */
    readonly name: string;
    /** What the channel carries. */
    readonly role: ChannelRole;
    /** SI unit of the samples, without prefix. */
    readonly unit: string;
    /** Digitiser limits, in `unit`. */
    readonly fullScale: { readonly low: number; readonly high: number } | null;
  }[];
  /** Samples per second, in Hz. */
  samplingRate: number;
  /** Time of the first sample, ISO 8601; `null` where it is not known. */
  startTime: string | null;
  /** `key: value` text. */
  metadata: Readonly<Record<string, string>>;
}

/** How far a recording is. */
export interface RecordingState {
  /** File that it becomes, or has become. */
  readonly path: string;
  /** Samples per channel that were given to it. */
  readonly samples: number;
  /** Blocks that could not be kept, as the disk was too slow. */
  readonly droppedBlocks: number;
  /** Samples per channel that stand as missing: dropped, or lost before. */
  readonly missing: number;
  /** Bytes that wait to be written. */
  readonly waiting: number;
  /** Why it ended early, in words; `null` while all is well. */
  readonly fault: string | null;
}

/** A recording that is being written. */
export interface Recording {
  /** How far it is. */
  readonly state: RecordingState;
  /**
   * Takes a block in; writes it when the disk is ready.
   *
   * @param samples One array per channel.
   * @param lost Samples lost in front of it; missing values stand for them.
   */
  push(samples: readonly ArrayLike<number>[], lost?: number): void;
  /** Writes what waits, puts the length into the head and gives the name. */
  finish(): Promise<RecordingState>;
}

/** Most bytes that wait for the disk. */
const mostWaiting = 1 << 24;
/** Most missing values that one gap becomes, in samples. */
const longestGap = 1 << 22;
/** Size of the data of a file whose length is not known yet. */
const notKnown = 0xffffffff;
const bytesPerSample = 4;
const bits = 32;

/**
 * Begins a recording to a WAV file of any length, in memory that does not grow:
 * float32 in the units of the channels, with names, roles and units in the head.
 * It is written as `NAME.part.wav` and named at the end; where the program is
 * killed, that file can be read as it is. Where the disk is full, what was
 * written is kept under the name. Over 4 GiB it becomes RF64 (EBU Tech 3306).
 *
 * @param path File to write, ending in `.wav`; one of that name is replaced at
 * the end.
 * @param options Channels, sampling rate in Hz, start, metadata.
 * @returns The recording.
 * @throws {RangeError} If the name does not end in `.wav`.
 * @throws {SaveError} If the file cannot be made.
 *
 * @example
 * ```ts
 * import { createRecording } from "fringebook/capture";
 * import { readCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const folder = await Deno.makeTempDir();
 * const recording = await createRecording(`${folder}/run.wav`, {
 *   channels: [
 *     { name: "CH1", role: "monitor signal", unit: "V", fullScale: null },
 *   ],
 *   samplingRate: 48e3,
 *   startTime: null,
 *   metadata: {},
 * });
 * recording.push([[0.25, 0.5, -0.5]]);
 * await recording.finish();
 * const capture = await readCapture(`${folder}/run.wav`);
 * expect([...capture.channels[0]!.samples]).toEqual([0.25, 0.5, -0.5]);
 * await Deno.remove(folder, { recursive: true });
 * ```
 */
export async function createRecording(
  path: string,
  options: RecordingOptions,
): Promise<Recording> {
  const task = "record";
  requireText(path, "path", task);
  requireFields(options, "options", ["channels", "samplingRate"], task);
  requireRecords(options.channels, "channels", ["name", "role"], task);
  if (!/\.wav$/i.test(path)) {
    throw new RangeError(
      `Cannot record to '${path}' as recordings are WAV: let the name end in .wav`,
    );
  }
  const { channels, samplingRate } = options;
  if (!(samplingRate >= 1) || channels.length === 0) {
    throw new RangeError(
      `Cannot record as a channel and a sampling rate of at least 1 Hz are needed: current values are ${channels.length} and ${samplingRate}`,
    );
  }
  const temporary = path.replace(/\.wav$/i, ".part.wav");
  let file: Deno.FsFile;
  try {
    file = await Deno.open(temporary, {
      write: true,
      create: true,
      truncate: true,
    });
  } catch (error) {
    throw new SaveError(path, error);
  }
  const head = headOf(options);
  try {
    await writeAll(file, head(notKnown));
  } catch (error) {
    file.close();
    await Deno.remove(temporary).catch(() => {});
    throw new SaveError(path, error);
  }
  return new WavRecording(path, temporary, file, channels.length, head);
}

/** Makes the head for a length of the data; it has one size whatever that is. */
function headOf(
  options: RecordingOptions,
): (dataSize: number) => Uint8Array {
  const { channels, samplingRate, startTime, metadata } = options;
  const comment = infoChunk(
    descriptionMark + JSON.stringify({
      samplingRate,
      startTime,
      channels: channels.map((channel) => ({ ...channel, scale: 1 })),
      metadata,
    }),
  );
  // Room for the 64-bit sizes of RF64, as EBU Tech 3306 keeps it.
  const room = new Uint8Array(36);
  room.set(new TextEncoder().encode("JUNK"));
  new DataView(room.buffer).setUint32(4, 28, true);
  const withRoom = new Uint8Array(room.length + comment.length);
  withRoom.set(room);
  withRoom.set(comment, room.length);
  const rate = Math.round(samplingRate);
  return (dataSize) => {
    if (dataSize === notKnown) {
      const bytes = wavHeader(
        channels.length,
        rate,
        bits,
        true,
        0,
        withRoom,
        false,
      );
      const view = new DataView(bytes.buffer);
      view.setUint32(4, notKnown, true);
      view.setUint32(bytes.length - 4, notKnown, true);
      return bytes;
    }
    const isLong = dataSize > notKnown - 65536 - withRoom.length;
    return wavHeader(
      channels.length,
      rate,
      bits,
      true,
      dataSize,
      isLong ? comment : withRoom,
      isLong,
    );
  };
}

async function writeAll(file: Deno.FsFile, bytes: Uint8Array): Promise<void> {
  for (let at = 0; at < bytes.length;) {
    at += await file.write(bytes.subarray(at));
  }
}

class WavRecording implements Recording {
  readonly #path: string;
  readonly #temporary: string;
  readonly #file: Deno.FsFile;
  readonly #channelCount: number;
  readonly #head: (dataSize: number) => Uint8Array;
  #writing: Promise<void> = Promise.resolve();
  #waiting = 0;
  #written = 0;
  #samples = 0;
  #droppedBlocks = 0;
  /** Samples that were dropped and for which nothing stands yet. */
  #owed = 0;
  #missing = 0;
  #fault: string | null = null;
  #finished: Promise<RecordingState> | null = null;

  constructor(
    path: string,
    temporary: string,
    file: Deno.FsFile,
    channelCount: number,
    head: (dataSize: number) => Uint8Array,
  ) {
    this.#path = path;
    this.#temporary = temporary;
    this.#file = file;
    this.#channelCount = channelCount;
    this.#head = head;
  }

  get state(): RecordingState {
    return {
      path: this.#path,
      samples: this.#samples,
      droppedBlocks: this.#droppedBlocks,
      missing: this.#missing,
      waiting: this.#waiting,
      fault: this.#fault,
    };
  }

  push(samples: readonly ArrayLike<number>[], lost = 0): void {
    if (this.#fault !== null || this.#finished !== null) return;
    const count = samples[0]?.length ?? 0;
    if (this.#waiting > mostWaiting) {
      this.#droppedBlocks++;
      this.#owed += count + lost;
      return;
    }
    const gap = Math.min(longestGap, this.#owed + lost);
    this.#owed = 0;
    this.#missing += gap;
    const step = this.#channelCount;
    const values = new Float32Array((gap + count) * step);
    values.fill(NaN, 0, gap * step);
    samples.forEach((channel, index) => {
      let at = gap * step + index;
      for (let i = 0; i < count; i++, at += step) values[at] = channel[i]!;
    });
    this.#samples += gap + count;
    this.#enqueue(littleEndian(values));
  }

  finish(): Promise<RecordingState> {
    return this.#finished ??= this.#end();
  }

  #enqueue(bytes: Uint8Array): void {
    this.#waiting += bytes.length;
    this.#writing = this.#writing.then(async () => {
      try {
        if (this.#fault !== null) return;
        await writeAll(this.#file, bytes);
        this.#written += bytes.length;
      } catch (error) {
        const { message } = new SaveError(this.#path, error);
        this.#fault = message.replace(" Nothing was changed there.", "") +
          ". What was recorded until then is kept";
      } finally {
        this.#waiting -= bytes.length;
      }
    });
  }

  async #end(): Promise<RecordingState> {
    await this.#writing;
    const frame = bytesPerSample * this.#channelCount;
    const frames = Math.floor(this.#written / frame);
    this.#samples = frames;
    try {
      const head = this.#head(frames * frame);
      await this.#file.truncate(head.length + frames * frame);
      await this.#file.seek(0, Deno.SeekMode.Start);
      await writeAll(this.#file, head);
      await this.#file.sync();
    } catch (error) {
      this.#fault ??= `The head of '${this.#path}' could not be written: ${
        (error as Error).message
      }. The samples are kept, and can be read`;
    }
    this.#file.close();
    if (frames === 0) {
      await Deno.remove(this.#temporary).catch(() => {});
      this.#fault ??= "No sample came: nothing was recorded";
      return this.state;
    }
    try {
      await Deno.rename(this.#temporary, this.#path);
    } catch (error) {
      this.#fault ??=
        `'${this.#temporary}' could not be named '${this.#path}': ${
          (error as Error).message
        }. It is kept, and can be read`;
    }
    return this.state;
  }
}

/** Bytes of the samples, least significant byte first. */
function littleEndian(values: Float32Array): Uint8Array {
  const bytes = new Uint8Array(values.buffer, 0, values.byteLength);
  if (new Uint8Array(Uint16Array.of(1).buffer)[0] === 1) return bytes;
  const view = new DataView(values.buffer);
  values.forEach((value, i) => view.setFloat32(4 * i, value, true));
  return bytes;
}
