/**
 * Numbers of more than 15 digits, or with a large power of ten, read from bytes
 * with double-double arithmetic: mantissa and power of ten as unevaluated sums
 * of two doubles (Dekker 1971). The answer is the correctly rounded one, or
 * `NaN` where the 106 bits do not decide the last bit and the caller must ask
 * `Number`.
 *
 * @module
 */

const largestPower = 60;
const powerHigh = new Float64Array(largestPower + 1);
const powerLow = new Float64Array(largestPower + 1);
for (let power = 0; power <= largestPower; power++) {
  const exact = 10n ** BigInt(power);
  const high = Number(exact);
  powerHigh[power] = high;
  powerLow[power] = Number(exact - BigInt(high));
}

/** Veltkamp's splitter, 2^27 + 1. */
const splitter = 134217729;
/** Relative doubt of the double-double result, well above its error. */
const doubt = 2 ** -98;

/**
 * Reads the digits again and rounds once.
 *
 * @param bytes The file.
 * @param start First byte after the sign.
 * @param end One past the number (exponent included).
 * @param decimal Byte of the decimal mark.
 * @param exponent Power of ten of the last digit.
 * @returns The magnitude, correctly rounded; `NaN` if undecided.
 */
export function longNumber(
  bytes: Uint8Array,
  start: number,
  end: number,
  decimal: number,
  exponent: number,
): number {
  // The first 15 significant digits, then up to 15 more.
  let first = 0;
  let second = 0;
  let significant = 0;
  let p = start;
  for (; p < end; p++) {
    const byte = bytes[p]!;
    if (byte === decimal) continue;
    const digit = byte - 48;
    if (digit < 0 || digit > 9) break;
    if (significant === 0 && digit === 0) continue;
    if (significant < 15) first = first * 10 + digit;
    else if (significant < 30) second = second * 10 + digit;
    else return NaN;
    significant++;
  }
  if (first === 0) return 0;
  const power = exponent < 0 ? -exponent : exponent;
  if (power > largestPower) return NaN;
  let high = first;
  let low = 0;
  if (significant > 15) {
    // first * 10^k exactly as high + low, then + second.
    const scale = powerHigh[significant - 15]!;
    const product = first * scale;
    let t = splitter * first;
    const a1 = t - (t - first);
    const a2 = first - a1;
    t = splitter * scale;
    const b1 = t - (t - scale);
    const b2 = scale - b1;
    const error = a2 * b2 - (product - a1 * b1 - a2 * b1 - a1 * b2);
    const sum = product + second;
    const back = sum - product;
    low = (product - (sum - back)) + (second - back) + error;
    high = sum;
  }
  if (power !== 0) {
    const scale = powerHigh[power]!;
    const scaleLow = powerLow[power]!;
    let t = splitter * scale;
    const b1 = t - (t - scale);
    const b2 = scale - b1;
    if (exponent < 0) {
      const quotient = high / scale;
      const product = quotient * scale;
      t = splitter * quotient;
      const a1 = t - (t - quotient);
      const a2 = quotient - a1;
      const error = a2 * b2 - (product - a1 * b1 - a2 * b1 - a1 * b2);
      const rest = (high - product) - error + low - quotient * scaleLow;
      low = rest / scale;
      high = quotient;
    } else {
      const product = high * scale;
      t = splitter * high;
      const a1 = t - (t - high);
      const a2 = high - a1;
      const error = a2 * b2 - (product - a1 * b1 - a2 * b1 - a1 * b2);
      low = error + low * scale + high * scaleLow;
      high = product;
    }
  }
  const margin = high * doubt;
  const above = high + (low + margin);
  return above === high + (low - margin) ? above : NaN;
}
