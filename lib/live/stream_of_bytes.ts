import { createByteDecoder, type ReadCaptureOptions } from "../capture/mod.ts";
import type { ByteReader } from "./byte_reader.ts";
import type { LiveBlock, LiveStream } from "./live_source.ts";
import { LiveSourceError } from "./live_source_error.ts";

/** How {@linkcode streamOfBytes} makes a stream. */
export interface ByteStreamOptions {
  /** What it is, for messages. */
  readonly name: string;
  /** How the bytes are laid out. */
  readonly reading: ReadCaptureOptions;
  /** Longest wait for the first samples, in s. */
  readonly patience: number;
  /** Whether samples come by the clock. */
  readonly paced: boolean;
  /** What is put on record. */
  readonly settings: Readonly<Record<string, string>>;
  /** Ends the wait for the first samples. */
  readonly signal: AbortSignal | undefined;
}

/**
 * Waits for the head and makes a live stream of bytes that come in.
 *
 * @throws {LiveSourceError} If nothing comes, or the source ends before a sample.
 */
export async function streamOfBytes(
  reader: ByteReader,
  options: ByteStreamOptions,
): Promise<LiveStream> {
  const { name, reading, patience, paced, settings, signal } = options;
  const decoder = createByteDecoder(reading);
  const first: LiveBlock[] = [];
  const take = (bytes: Uint8Array) => {
    const { samples, garbage } = decoder.push(bytes);
    return { samples, garbage, joined: true, lost: 0 };
  };
  let late = false;
  const timer = setTimeout(() => {
    late = true;
    void reader.close();
  }, 1000 * patience);
  const stop = () => void reader.close();
  signal?.addEventListener("abort", stop, { once: true });
  try {
    while (decoder.head === null) {
      const bytes = await reader.read();
      if (bytes === null) {
        throw signal?.aborted
          ? new LiveSourceError(
            "stopped",
            `Stopped before a sample came of ${name}`,
          )
          : late
          ? new LiveSourceError(
            "no samples",
            `Cannot watch ${name} as no samples came within ${patience} s: start the recorder first, or raise 'patience'`,
          )
          : new LiveSourceError(
            "ended",
            `Cannot watch ${name} as it ended before there was a sample`,
          );
      }
      first.push(take(bytes));
    }
  } catch (error) {
    await reader.close();
    throw error;
  } finally {
    clearTimeout(timer);
    signal?.removeEventListener("abort", stop);
  }
  const { format, samplingRate, channels } = decoder.head;
  async function* blocks() {
    for (const block of first.splice(0)) {
      if ((block.samples[0]?.length ?? 0) > 0) yield block;
    }
    for (;;) {
      const bytes = await reader.read();
      if (bytes === null) return;
      yield take(bytes);
    }
  }
  // Somebody who watches looks at the monitor signal.
  const isAssumed = !channels.some(({ role }) => role === "monitor signal");
  return {
    samplingRate,
    paced,
    channels: channels.map(({ name, role, unit, fullScale }, index) => ({
      name,
      role: isAssumed && index === 0 ? "monitor signal" : role,
      unit,
      fullScale,
    })),
    settings: {
      ...settings,
      format,
      ...(isAssumed
        ? { "assumed": "the first channel carries the monitor signal" }
        : {}),
    },
    blocks,
    close: () => reader.close(),
  };
}
