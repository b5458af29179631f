import type { ChannelRole } from "../capture/mod.ts";

/** One channel of a live source. */
export interface LiveChannel {
  /** Name of the channel. */
  readonly name: string;
  /** What the channel carries. */
  readonly role: ChannelRole;
  /** SI unit of the samples, without prefix. */
  readonly unit: string;
  /** Lowest and highest value of the digitiser, in `unit`; `null`: not known. */
  readonly fullScale: { readonly low: number; readonly high: number } | null;
}

/** Samples that came in together. */
export interface LiveBlock {
  /** One array per channel, all of one length, in the units of the channels. */
  readonly samples: readonly Float64Array[];
  /** Whether the block follows on from the one before without a gap. */
  readonly joined: boolean;
  /** Samples known to be lost in front of it. */
  readonly lost: number;
  /** Lines or bytes that were no samples and were left out. */
  readonly garbage: number;
}

/** A source that was opened. */
export interface LiveStream {
  /** Samples per second that the source states, in Hz. */
  readonly samplingRate: number;
  /**
   * Whether the samples come at that rate by the clock: then a rate that is not
   * what was said, and a source that stalls, can be told.
   */
  readonly paced: boolean;
  /** The channels. */
  readonly channels: readonly LiveChannel[];
  /** What it is and how it was set, as text, for the provenance of captures. */
  readonly settings: Readonly<Record<string, string>>;
  /** The blocks in order of time, until the source ends. */
  blocks(): AsyncIterator<LiveBlock>;
  /** Lets go of the source; ends a read that waits. */
  close(): void | Promise<void>;
}

/** Where samples come from as they are taken. */
export interface LiveSource {
  /** Name, in words, such as `"simulated bench"`. */
  readonly name: string;
  /**
   * Opens it.
   *
   * @param signal Ends the wait for the first samples when it is aborted.
   * @throws {LiveSourceError} If it cannot be opened.
   */
  open(signal?: AbortSignal): Promise<LiveStream>;
}

/** Whether a value is a source. */
export function isLiveSource(value: unknown): value is LiveSource {
  return typeof value === "object" && value !== null &&
    typeof (value as LiveSource).open === "function" &&
    typeof (value as LiveSource).name === "string";
}
