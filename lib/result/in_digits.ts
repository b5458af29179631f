/**
 * A number for a message, to so many significant digits and without a power of
 * ten where a person would not write one: `"1410"`, not `"1.41e+3"`.
 *
 * @param value The number.
 * @param digits Significant digits.
 * @returns The text.
 *
 * @example
 * ```ts
 * import { inDigits } from "fringebook/result";
 * import { expect } from "vitest";
 *
 * expect(inDigits(1412.7, 3)).toBe("1410");
 * expect(inDigits(0.012345, 2)).toBe("0.012");
 * ```
 */
export function inDigits(value: number, digits: number): string {
  if (typeof value !== "number" || !(digits >= 1 && digits <= 100)) {
    throw new TypeError(
      `Cannot write a number in digits as it takes a number and how many digits, from 1 to 100: got a ${typeof value} and ${digits}`,
    );
  }
  return String(Number(value.toPrecision(digits)));
}
