/**
 * The capture is readable but does not hold what the measurement needs: no
 * ramp, no fringes, no line in the spectrum. The message says what was looked
 * for, what was found, and what to change at the bench.
 *
 * @example
 * ```ts
 * import { NotMeasurableError } from "fringebook";
 * import { expect } from "vitest";
 *
 * const error = new NotMeasurableError(
 *   "no ramp",
 *   "Cannot measure a distance as the drive current does not change: it stays at 40.0 mA. Record while the ramp runs",
 * );
 * expect(error.reason).toBe("no ramp");
 * ```
 */
export class NotMeasurableError extends Error {
  /** Name of the error. */
  override readonly name = "NotMeasurableError";
  /** Short machine-readable reason, such as `"no ramp"` or `"no fringes"`. */
  readonly reason: string;

  /**
   * Makes the error.
   *
   * @param reason Short machine-readable reason.
   * @param message What was looked for, what was found, what to do next.
   */
  constructor(reason: string, message: string) {
    super(message);
    this.reason = reason;
  }
}
