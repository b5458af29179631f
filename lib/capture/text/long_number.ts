/**
 * Numbers of more than 15 digits, or with a large power of ten, read from bytes
 * with double-double arithmetic: powers of ten as unevaluated sums of two
 * doubles, exact products of doubles (Dekker 1971). The answer is the correctly
 * rounded one, or `NaN` where about 100 bits do not decide the last bit and the
 * caller must ask `Number`.
 *
 * @module
 */

const largestPower = 70;
/** Veltkamp's splitter, 2^27 + 1. */
const splitter = 134217729;
/** Relative doubt of the double-double result, well above its error. */
const doubt = 2 ** -97;

/** 10^(index − largestPower) = high + low; high = upper + lower half. */
const powerHigh = new Float64Array(2 * largestPower + 1);
const powerLow = new Float64Array(2 * largestPower + 1);
const powerUpper = new Float64Array(2 * largestPower + 1);
const powerLower = new Float64Array(2 * largestPower + 1);
fillPowers();

function fillPowers(): void {
  // 10^-power − high, from whole numbers scaled by 2^600.
  const one = 1n << 600n;
  for (let power = -largestPower; power <= largestPower; power++) {
    const index = power + largestPower;
    const high = Number(`1e${power}`);
    const exact = power >= 0
      ? 10n ** BigInt(power) * one
      : one / 10n ** BigInt(-power);
    // high × 2^600 is a whole number, as |power| is small.
    const scaled = BigInt(high * 2 ** 300) * (1n << 300n);
    powerHigh[index] = high;
    powerLow[index] = Number(exact - scaled) / 2 ** 600;
    const t = splitter * high;
    powerUpper[index] = t - (t - high);
    powerLower[index] = high - powerUpper[index]!;
  }
}

/**
 * Rounds a number of 10 to 18 digits once.
 *
 * @param head The leading digits, at most nine.
 * @param next The digits after them.
 * @param nextDigits How many digits `next` has, 6 to 9.
 * @param exponent Power of ten of the last digit.
 * @returns The magnitude, correctly rounded; `NaN` if undecided.
 */
export function longNumber(
  head: number,
  next: number,
  nextDigits: number,
  exponent: number,
): number {
  // Six digits move over to the head, at most three stay.
  const stay = small[nextDigits - 6]!;
  const moved = Math.floor(next / stay);
  return round(
    head * 1e6 + moved,
    next - moved * stay,
    nextDigits - 6,
    exponent,
  );
}

const small = [1, 10, 100, 1000];

/**
 * Reads up to 30 digits again and rounds once.
 *
 * @param bytes The file.
 * @param start First byte after the sign.
 * @param end One past the number (exponent included).
 * @param decimal Byte of the decimal mark.
 * @param exponent Power of ten of the last digit.
 * @returns The magnitude, correctly rounded; `NaN` if undecided.
 */
export function longestNumber(
  bytes: Uint8Array,
  start: number,
  end: number,
  decimal: number,
  exponent: number,
): number {
  let p = start;
  let byte = bytes[p]!;
  while (byte === 48 || byte === decimal) byte = bytes[++p]!;
  let first = 0;
  let left = 15;
  let digit = byte - 48;
  while (left > 0) {
    if (digit >= 0 && digit <= 9) {
      first = first * 10 + digit;
      left--;
    } else if (digit + 48 !== decimal) break;
    digit = bytes[++p]! - 48;
  }
  let second = 0;
  let secondDigits = 0;
  for (; p < end; digit = bytes[++p]! - 48) {
    if (digit >= 0 && digit <= 9) {
      second = second * 10 + digit;
      secondDigits++;
    } else if (digit + 48 !== decimal) break;
  }
  return secondDigits > 15 ? NaN : round(first, second, secondDigits, exponent);
}

/** (first × 10^secondDigits + second) × 10^exponent with at most 15 digits each. */
function round(
  first: number,
  second: number,
  secondDigits: number,
  exponent: number,
): number {
  const tail = exponent + largestPower;
  const index = tail + secondDigits;
  if (tail < 0 || index > 2 * largestPower) return NaN;
  const scale = powerHigh[index]!;
  const high = first * scale;
  const t = splitter * first;
  const upper = t - (t - first);
  const lower = first - upper;
  const b1 = powerUpper[index]!;
  const b2 = powerLower[index]!;
  const error = lower * b2 - (high - upper * b1 - lower * b1 - upper * b2);
  const low = error + (first * powerLow[index]! + second * powerHigh[tail]!);
  const margin = high * doubt;
  const above = high + (low + margin);
  return above === high + (low - margin) ? above : NaN;
}
