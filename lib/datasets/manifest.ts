import type { ReadCaptureOptions } from "../capture/mod.ts";

/** A value that is known, or known only to the simulator. */
export interface ManifestValue {
  /** The value, in `unit`. */
  readonly value: number;
  /** SI unit without prefix. */
  readonly unit: string;
  /**
   * Standard uncertainty, in `unit`, of a value read off the bench; 0 for a
   * truth, and for what is exact by definition.
   */
  readonly standardUncertainty: number;
  /** What it is and how it was read, one short sentence. */
  readonly what: string;
}

/** One file of the simulated bench: a capture, or a table beside the captures. */
export interface ManifestFile {
  /** Name for {@linkcode datasetTruth}. */
  readonly name: string;
  /** File name in the folder. */
  readonly file: string;
  /** SHA-256 of the file's bytes, in lower-case hex. */
  readonly sha256: string;
  /** Size of the file, in bytes. */
  readonly bytes: number;
  /** What was recorded, or what a table holds, one sentence. */
  readonly what: string;
  /** What a person at the bench knows, with uncertainties. */
  readonly known: Readonly<Record<string, ManifestValue>>;
  /** What only the simulator knows. */
  readonly truth: Readonly<Record<string, ManifestValue>>;
}

/** One capture of the simulated bench; its name is one for {@linkcode loadDataset}. */
export interface ManifestEntry extends ManifestFile {
  /** Series that it belongs to, such as `"tuning"`. */
  readonly series: string;
  /** Form of the file, in words. */
  readonly format: string;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Samples per channel (1). */
  readonly sampleCount: number;
  /** Options for `readCapture`: what the file does not say. */
  readonly reading: ReadCaptureOptions;
}

/** `datasets/manifest.json`. */
export interface Manifest {
  /** Says that all is simulated. */
  readonly origin: string;
  /** The captures, in the order of their making. */
  readonly datasets: readonly ManifestEntry[];
  /** The tables beside them. */
  readonly tables: readonly ManifestFile[];
}

/** A table as a recipe makes it. */
export interface MadeTable {
  /** Content of the file. */
  readonly bytes: Uint8Array;
  /** What is known of it. */
  readonly entry: Omit<ManifestFile, "sha256" | "bytes">;
}

/** What a recipe makes: the bytes, and the entry without what follows from them. */
export interface MadeDataset {
  /** Content of the file. */
  readonly bytes: Uint8Array;
  /** What is known of the file. */
  readonly entry: Omit<ManifestEntry, "sha256" | "bytes">;
  /** A table that goes with it. */
  readonly beside?: MadeTable;
}

/** Makes a {@linkcode ManifestValue} that somebody read off the bench. */
export function known(
  value: number,
  standardUncertainty: number,
  unit: string,
  what: string,
): ManifestValue {
  return { value, unit, standardUncertainty, what };
}

/** Makes a {@linkcode ManifestValue} that only the simulator knows. */
export function truth(
  value: number,
  unit: string,
  what: string,
): ManifestValue {
  return { value, unit, standardUncertainty: 0, what };
}
