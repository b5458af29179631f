/**
 * An instrument does not answer, answers with what was not asked, or reports an
 * error of its own.
 *
 * @example
 * ```ts
 * import { InstrumentError } from "fringebook";
 * import { expect } from "vitest";
 *
 * const error = new InstrumentError("no answer", "'*IDN?' had no answer in 5 s");
 * expect(error.reason).toBe("no answer");
 * ```
 */
export class InstrumentError extends Error {
  /** Name of the error. */
  override readonly name = "InstrumentError";
  /** Short machine-readable reason, such as `"no answer"` or `"bad block"`. */
  readonly reason: string;

  /**
   * Makes the error.
   *
   * @param reason Short machine-readable reason.
   * @param message What was asked, what came, what to do next.
   */
  constructor(reason: string, message: string) {
    super(message);
    this.reason = reason;
  }
}
