import type { ChannelRole } from "../capture.ts";
import type { Warning } from "../../result/mod.ts";
import type { SampleLayout } from "../binary/sample_type.ts";
import type { ByteSource } from "./byte_source.ts";

/** Something a reader decided, why, and how to override it. */
export interface ReadingAssumption {
  /** What was decided, such as `"delimiter"`. */
  readonly what: string;
  /** The decision, such as `"semicolon"`. */
  readonly value: string;
  /** Why, in plain words. */
  readonly because: string;
  /** Option that overrides it; `""` where none does. */
  readonly option: string;
}

/** A channel as the file's header describes it. */
export interface OpenedChannel {
  readonly name: string;
  /** SI unit after scaling. */
  readonly unit: string;
  /** Factor from the file's numbers, less `zero`, to `unit`. */
  readonly scale: number;
  /** The file's number that means 0; left out for 0. */
  readonly zero?: number;
  /**
   * What one of the file's numbers is worth in those that a stated scale applies
   * to (1/32768 for 16 bit as part of full scale); left out for 1.
   */
  readonly step?: number;
  /** Digitiser limits in the file's numbers; `null` if not said. */
  readonly fullScale: { low: number; high: number } | null;
  /** Role said by the file; `null` if it is silent. */
  readonly role: ChannelRole | null;
  /** Scale on record where the file's numbers are in `unit` already. */
  readonly recordedScale?: number;
}

/** What every reader says of a file before it reads samples. */
export interface OpenedHead {
  /** Format name, such as `"WAV"`. */
  readonly format: string;
  /** Variant, such as `"PCM 16 bit"`. */
  readonly variant: string;
  readonly channels: readonly OpenedChannel[];
  /** In Hz; `null` if the file does not say. */
  readonly samplingRate: number | null;
  /** Time of the first sample, ISO 8601; `null` if the file does not say. */
  readonly startTime: string | null;
  readonly metadata: Readonly<Record<string, string>>;
  readonly assumptions: readonly ReadingAssumption[];
  readonly warnings: readonly Warning[];
}

/** A file whose samples lie at known places. */
export interface OpenedBinary extends OpenedHead {
  /** Samples per channel. */
  readonly sampleCount: number;
  /** Bytes that hold the samples. */
  readonly source: ByteSource;
  /** Where each channel's samples lie in `source`. */
  readonly layouts: readonly SampleLayout[];
  /** Position of a channel that holds times, in s; `null` for none. */
  readonly timeChannel: number | null;
}
