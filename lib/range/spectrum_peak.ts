import type { FringeFit } from "./fringe_fit.ts";
import { difference } from "./normal_equations.ts";
import { type StrokeSignal, thin } from "./stroke_signal.ts";

/** Blocks over which the turned-back signal is averaged for the search. */
const blocks = 64;
/** Rounds of Newton's method. */
const rounds = 2;

/**
 * Steps per ramp from the top of the line in the spectrum of the signal against
 * current, after the power ramp is removed, under a Hann window. The signal is
 * turned back by the guess; means over blocks of it show where the top is, and
 * Newton's method on all samples settles it.
 *
 * @param signal The stroke.
 * @param fit A fringe fit, for the power ramp and the first guess.
 * @returns The steps (1); `null` below 4 steps.
 */
export function stepsFromSpectrum(
  signal: StrokeSignal,
  fit: FringeFit,
): number | null {
  if (fit.steps < 4) return null;
  // Means over a small part of a fringe have the same line.
  const most = Math.max(400, Math.ceil(16 * fit.steps));
  const { x, y } = thin({
    x: signal.x,
    y: difference(signal.y, fit.background),
  }, most);
  const line = turnBack(x, y, fit.steps);
  const short = inBlocks(line);
  const reach = 2.4 / Math.abs(x[x.length - 1]! - x[0]!);
  const golden = (Math.sqrt(5) - 1) / 2;
  let [low, high] = [-reach, reach];
  while (high - low > 0.01) {
    const left = high - golden * (high - low);
    const right = low + golden * (high - low);
    if (powerAt(short, left).power > powerAt(short, right).power) high = right;
    else low = left;
  }
  let shift = (low + high) / 2;
  for (let round = 0; round < rounds; round++) {
    const { slope, bend } = powerAt(line, shift);
    if (!(bend < 0)) break;
    shift -= Math.max(-0.1, Math.min(0.1, slope / bend));
  }
  return fit.steps + shift;
}

/** A signal turned back by a guess, and where on the ramp each value stands. */
interface TurnedBack {
  /** π times the current from the middle on, in rad per step. */
  readonly place: Float64Array;
  readonly real: Float64Array;
  readonly imaginary: Float64Array;
}

function turnBack(x: Float64Array, y: Float64Array, steps: number): TurnedBack {
  const n = x.length;
  const [a, b] = [x[0]!, x[n - 1]!];
  const centre = (a + b) / 2;
  const place = new Float64Array(n);
  const real = new Float64Array(n);
  const imaginary = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    place[i] = Math.PI * (x[i]! - centre);
    const window = (1 + Math.cos(2 * place[i]! / (b - a))) / 2;
    // Samples that lie close together in current count less.
    const spacing = Math.abs(
      x[Math.min(n - 1, i + 1)]! - x[Math.max(0, i - 1)]!,
    );
    const value = y[i]! * window * spacing;
    real[i] = value * Math.cos(steps * place[i]!);
    imaginary[i] = -value * Math.sin(steps * place[i]!);
  }
  return { place, real, imaginary };
}

function inBlocks(line: TurnedBack): TurnedBack {
  const { length } = line.place;
  const each = Math.ceil(length / blocks);
  const means = (values: Float64Array) =>
    Float64Array.from({ length: Math.floor(length / each) }, (_, k) => {
      let sum = 0;
      for (let i = k * each; i < (k + 1) * each; i++) sum += values[i]!;
      return sum / each;
    });
  return {
    place: means(line.place),
    real: means(line.real),
    imaginary: means(line.imaginary),
  };
}

/** Power of the line at some steps from the guess, and its derivatives. */
function powerAt({ place, real, imaginary }: TurnedBack, shift: number) {
  let [a, b, a1, b1, a2, b2] = [0, 0, 0, 0, 0, 0];
  for (let i = 0; i < place.length; i++) {
    const p = place[i]!;
    const cos = Math.cos(shift * p);
    const sin = Math.sin(shift * p);
    // Of (real + i imaginary) e^(-i shift p).
    const re = real[i]! * cos + imaginary[i]! * sin;
    const im = imaginary[i]! * cos - real[i]! * sin;
    a += re;
    b += im;
    a1 += p * im;
    b1 -= p * re;
    a2 -= p * p * re;
    b2 -= p * p * im;
  }
  return {
    power: a * a + b * b,
    slope: 2 * (a * a1 + b * b1),
    bend: 2 * (a1 * a1 + b1 * b1 + a * a2 + b * b2),
  };
}
