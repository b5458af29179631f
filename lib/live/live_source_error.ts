/**
 * A live source cannot be opened, or does not give what it should.
 *
 * @example
 * ```ts
 * import { LiveSourceError } from "fringebook/live";
 * import { expect } from "vitest";
 *
 * const error = new LiveSourceError("not found", "Cannot watch 'pipe'");
 * expect(error.reason).toBe("not found");
 * ```
 */
export class LiveSourceError extends Error {
  /** Name of the error. */
  override readonly name = "LiveSourceError";
  /** Short machine-readable reason, such as `"not found"`. */
  readonly reason: string;

  /**
   * Makes the error.
   *
   * @param reason Short machine-readable reason.
   * @param message What could not be done, why, what to do next.
   */
  constructor(reason: string, message: string) {
    super(message);
    this.reason = reason;
  }
}
