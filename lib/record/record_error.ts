/**
 * A calibration record cannot be used or written.
 *
 * @example
 * ```ts
 * import { RecordError } from "fringebook";
 * import { expect } from "vitest";
 *
 * const error = new RecordError("hash", "Cannot use 'a.json' as …");
 * expect(error.reason).toBe("hash");
 * ```
 */
export class RecordError extends Error {
  /** Name of the error. */
  override readonly name = "RecordError";
  /** What is wrong. */
  readonly reason:
    | "json"
    | "schema"
    | "hash"
    | "range"
    | "exists"
    | "csv"
    | "chain"
    | "signature"
    | "save";

  /**
   * Makes the error.
   *
   * @param reason What is wrong.
   * @param message What, the value, and what to do next.
   */
  constructor(reason: RecordError["reason"], message: string) {
    super(message);
    this.reason = reason;
  }
}
