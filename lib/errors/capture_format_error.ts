/** Where in a file the reader stopped; fields not known are `null`. */
export interface CaptureFormatErrorDetails {
  /** Name of the file as given by the caller. */
  readonly fileName: string | null;
  /** Line in the file, counted from 1. */
  readonly line: number | null;
  /** Column (field) in the line, counted from 1. */
  readonly column: number | null;
  /** Byte offset in the file, counted from 0. */
  readonly byteOffset: number | null;
}

/**
 * A file is not a capture that can be read: empty, truncated, not of the format
 * it claims, or with text where a number belongs.
 *
 * @example The message names the place
 * ```ts
 * import { CaptureFormatError } from "fringebook";
 * import { expect } from "vitest";
 *
 * const error = new CaptureFormatError("Cannot read 'x.csv' as it is empty", {
 *   fileName: "x.csv",
 * });
 * expect(error.name).toBe("CaptureFormatError");
 * expect(error.details.line).toBe(null);
 * ```
 */
export class CaptureFormatError extends Error {
  /** Name of the error. */
  override readonly name = "CaptureFormatError";
  /** Where in the file it is. */
  readonly details: CaptureFormatErrorDetails;

  /**
   * Makes the error.
   *
   * @param message What is wrong, the value, and what to do next.
   * @param details Where it is wrong.
   */
  constructor(
    message: string,
    details: Partial<CaptureFormatErrorDetails> = {},
  ) {
    super(message);
    this.details = {
      fileName: null,
      line: null,
      column: null,
      byteOffset: null,
      ...details,
    };
  }
}
