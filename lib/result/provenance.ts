/** A number that a result rests on beside its samples. */
export interface ResultInput {
  /** Name of the option, such as `"wavelength"`. */
  readonly name: string;
  /** The same in words. */
  readonly label: string;
  /** Its value, in `unit`. */
  readonly value: number;
  /** SI unit symbol without prefix; `"1"` for pure numbers. */
  readonly unit: string;
  /**
   * Standard uncertainty that counts, in `unit`; `null` where nobody stated one:
   * then the value was taken as exact.
   */
  readonly standardUncertainty: number | null;
  /** Where it comes from: the caller, the file, or the default. */
  readonly origin: "stated" | "file" | "default";
}

/** Where a result comes from, so that it can be shown again later. */
export interface Provenance {
  /** Name of the computing function, such as `"measureDistance"`. */
  readonly method: string;
  /** Version of this library. */
  readonly libraryVersion: string;
  /** Captures used: file name and SHA-256 in hex (`null` if made in memory). */
  readonly captures: readonly {
    readonly fileName: string | null;
    readonly sha256: string | null;
  }[];
  /** The options after defaults were filled in; JSON values only. */
  readonly options: Readonly<Record<string, unknown>>;
  /** What the result rests on beside its samples, and where that comes from. */
  readonly inputs: readonly ResultInput[];
  /** Published sources of the method, "author year, equation". */
  readonly sources: readonly string[];
}

/** What {@linkcode provenance} needs of the caller. */
export interface ProvenanceInput {
  /** Name of the computing function. */
  method: string;
  /**
   * Captures used; anything with a `source` such as a capture, or a source.
   *
   * @default {[]}
   */
  captures?: readonly {
    readonly fileName: string | null;
    readonly sha256: string | null;
  }[];
  /**
   * The options after defaults were filled in.
   *
   * @default {{}}
   */
  options?: Readonly<Record<string, unknown>>;
  /**
   * What the result rests on beside its samples.
   *
   * @default {[]}
   */
  inputs?: readonly ResultInput[];
  /**
   * Published sources of the method.
   *
   * @default {[]}
   */
  sources?: readonly string[];
}

/** Version of this library, as in `deno.json`. */
export const libraryVersion = "0.2.0";

/**
 * Makes a {@linkcode Provenance}. Holds no clock time, so that the same capture
 * gives the same result to the letter.
 *
 * @param input Method, captures, options, inputs and sources.
 * @returns The provenance with all fields.
 *
 * @example
 * ```ts
 * import { provenance } from "fringebook/result";
 * import { expect } from "vitest";
 *
 * expect(provenance({ method: "countFringes" }).captures).toEqual([]);
 * ```
 */
export function provenance(input: ProvenanceInput): Provenance {
  if (typeof input?.method !== "string") {
    throw new TypeError(
      "Cannot make a provenance as it takes an object with 'method', the name of the computing function",
    );
  }
  const { method, captures = [], options = {}, inputs = [], sources = [] } =
    input;
  return {
    method,
    libraryVersion,
    captures: captures.map(({ fileName, sha256 }) => ({ fileName, sha256 })),
    options,
    inputs,
    sources,
  };
}
