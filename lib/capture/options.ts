import type { ChannelRole } from "./capture.ts";
import type { RawLayoutOptions } from "./binary/open_raw.ts";
import type { CaptureFormat } from "./file/identify.ts";
import type { TextDelimiter } from "./text/sniff.ts";

/** What the caller says of one channel; the file decides what is left out. */
export interface ChannelOptions {
  /**
   * Another name for the channel.
   *
   * @default {the name in the file}
   */
  name?: string;
  /**
   * What the channel carries.
   *
   * @default {recognised from the name and unit}
   */
  role?: ChannelRole;
  /**
   * SI unit of the scaled samples, without prefix.
   *
   * @default {the file's unit}
   */
  unit?: string;
  /**
   * Factor from the numbers of the file to `unit`; in WAV files of whole numbers
   * from parts of full scale, so that 2 means ± 2 V.
   *
   * @default {from the unit in the file}
   */
  scale?: number;
  /**
   * Digitiser limits, in `unit`.
   *
   * @default {null}
   */
  fullScale?: { low: number; high: number } | null;
  /**
   * Current per voltage of a drive that was recorded as a voltage, in A/V: the
   * channel then is in A.
   *
   * @default {none}
   */
  currentPerVoltage?: number | string;
  /**
   * Current at a voltage of 0, in A; with `currentPerVoltage`.
   *
   * @default {0}
   */
  currentOffset?: number | string;
}

/** Options of {@linkcode readCapture}. */
export interface ReadCaptureOptions {
  /**
   * Format of the file.
   *
   * @default {found from the first bytes}
   */
  format?: CaptureFormat;
  /**
   * Samples per second, in Hz, or a text such as `"1MHz"`; overrides the file.
   *
   * @default {from the file}
   */
  samplingRate?: number | string;
  /**
   * What channels carry, by name in the file or by position from 0. A role
   * alone may stand for `{ role }`.
   *
   * @default {{}}
   */
  channels?: Readonly<Record<string, ChannelOptions | ChannelRole>>;
  /**
   * Time of the first sample, ISO 8601.
   *
   * @default {from the file}
   */
  startTime?: string;
  /**
   * Name for messages and the source when bytes are given.
   *
   * @default {null}
   */
  fileName?: string | null;
  /**
   * Text: character between fields.
   *
   * @default {found out}
   */
  delimiter?: TextDelimiter;
  /**
   * Text: decimal mark.
   *
   * @default {found out}
   */
  decimalMark?: "." | ",";
  /**
   * Text: mark between groups of three digits, `""` for none.
   *
   * @default {found out}
   */
  thousandsMark?: "" | "," | "." | " " | "'";
  /**
   * Text: texts that stand for a missing value, beside the usual ones.
   *
   * @default {[]}
   */
  missing?: readonly string[];
  /**
   * Text: name or position from 0 of the time column; `null` for none.
   *
   * @default {found out}
   */
  timeColumn?: string | number | null;
  /**
   * Text: `"columns"` for one line per sample, `"rows"` for one line per
   * channel.
   *
   * @default {found out}
   */
  orientation?: "columns" | "rows";
  /**
   * Text files: threads that parse at the same time; 1 for this one alone. The
   * samples are the same to the bit.
   *
   * @default {as many as there are cores, at most 4, for files from 100 MB; 1 for smaller ones}
   */
  threads?: number;
  /**
   * Which record of a file with several, from 0.
   *
   * @default {0, with a warning if there are more}
   */
  record?: number;
  /**
   * How bare numbers are laid out; makes the format `"raw binary"`.
   *
   * @default {not raw}
   */
  raw?: RawLayoutOptions;
  /**
   * Most bytes that are taken into memory, before and after decompression. Where
   * it is not given, compressed files beyond 32 MiB may not become more than 100
   * times as large either.
   *
   * @default {2147483648}
   */
  maximumSize?: number;
  /**
   * Whether to hash the file (SHA-256), so that results and records name the
   * very bytes they come from. Without it, provenance says that the file was not
   * hashed, and calibration records refuse it.
   *
   * @default {true}
   */
  sha256?: boolean;
}
