import type { StepEstimate } from "./fringe_fit.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import { ends, resample, type StrokeSignal } from "./stroke_signal.ts";

/** Points of the phase to a step. */
const pointsPerStep = 8;
/** Rounds after which a guess that does not settle is given up. */
const mostRounds = 5;

/** Steps by the slope of the phase. */
export interface PhaseSlope extends StepEstimate {
  /** Amplitude of the fringes' first harmonic, in the unit of the signal. */
  readonly amplitude: number;
  /** Standard deviation of the noise as the phase shows it, in that unit. */
  readonly noise: number;
  /** rms of the phase about its smooth course, in rad. */
  readonly scatter: number;
  /** Part of the mean square that one cosine of that rate explains (0 to 1). */
  readonly explained: number;
}

/**
 * Steps per ramp from the slope of the unwrapped phase: the signal is turned
 * back by the guessed phase, averaged over one step twice (which removes the
 * harmonics of a saw-tooth), and its angle unwrapped and fitted by a polynomial
 * of the third order. Repeated until the guess is the slope found.
 *
 * The uncertainty is that of a slope in noise, u² = 12 σ²/(n d²) with the noise σ
 * of the phase of a sample, n samples and d their spread in x; σ is what the
 * phase leaves, as two averages over w samples keep 2/(3 w) of its square.
 *
 * @param x Current of each sample, from -1 to 1 on the ramp (1).
 * @param fringes The signal without its power ramp.
 * @param guess First guess of the steps (1).
 * @returns The estimate; `null` below 4 steps, below 2 samples to a step, or where
 * no slope settles.
 */
export function stepsFromPhase(
  x: Float64Array,
  fringes: Float64Array,
  guess: number,
): PhaseSlope | null {
  const even = alongCurrent({ x, y: fringes });
  const [low, high] = ends(x);
  let steps = guess;
  for (let round = 0; round < mostRounds; round++) {
    const found = slopeAt(even, low, high, steps);
    if (found === null) return null;
    if (Math.abs(found.steps - steps) < 0.1) return found;
    steps = found.steps;
  }
  return null;
}

function slopeAt(
  y: Float64Array,
  low: number,
  high: number,
  guess: number,
): PhaseSlope | null {
  const n = y.length;
  const spacing = (high - low) / (n - 1);
  const width = 2 / (guess * spacing);
  // Where both averages hold samples alone.
  const margin = width + 1;
  const count = 1 + Math.floor((n - 2 * margin) * pointsPerStep / width);
  if (!(guess >= 4 && width > 2 && count >= pointsPerStep)) return null;
  const turned = turnBack(y, Math.PI * guess * low, Math.PI * guess * spacing);
  const [real, imaginary] = [turned.real, turned.imaginary]
    .map((values) => boxSums(values, width));
  const place = new Float64Array(count);
  const phase = new Float64Array(count);
  let size = 0;
  let turns = 0;
  for (let k = 0; k < count; k++) {
    // From the left edge of the first sample on, in samples.
    const at = margin + k * width / pointsPerStep;
    const a = boxMean(real!, at, width);
    const b = boxMean(imaginary!, at, width);
    size += Math.hypot(a, b) / count;
    const angle = Math.atan2(b, a);
    if (k > 0) {
      turns -= Math.round(
        (angle + 2 * Math.PI * turns - phase[k - 1]!) / (2 * Math.PI),
      );
    }
    phase[k] = angle + 2 * Math.PI * turns;
    place[k] = 2 * k / (count - 1) - 1;
  }
  const line = solveColumns(legendreColumns(place, 3), phase);
  if (line === null) return null;
  const span = (count - 1) * width / pointsPerStep * spacing;
  // Points that do not share samples, less the coefficients.
  const independent = 1.5 * count / pointsPerStep;
  const variance = line.residualSum / count * independent /
    Math.max(1, independent - 4);
  const perSample = 1.5 * width * variance;
  const kept = span / spacing;
  let square = 0;
  for (let i = 0; i < n; i++) square += y[i]! * y[i]! / n;
  const coherent = Math.hypot(turned.real[n]!, turned.imaginary[n]!) / n;
  return {
    steps: guess + line.coefficients[1]! * 2 / span / Math.PI,
    standardUncertainty: Math.sqrt(12 * perSample / kept) / (Math.PI * span),
    amplitude: 2 * size,
    noise: 2 * size * Math.sqrt(perSample / 2),
    scatter: Math.sqrt(line.residualSum / count),
    explained: square > 0 ? Math.min(1, 2 * coherent ** 2 / square) : 0,
  };
}

/** The signal at even, rising currents. */
function alongCurrent(signal: StrokeSignal): Float64Array {
  const { x, y } = signal;
  const n = x.length;
  const spacing = (x[n - 1]! - x[0]!) / (n - 1);
  for (let i = 0; i < n; i++) {
    if (Math.abs(x[0]! + i * spacing - x[i]!) > 1e-3 * Math.abs(spacing)) {
      return resample(signal, n).y;
    }
  }
  return spacing > 0 ? y : y.slice().reverse();
}

/** Sums of y e^(-i(start + k step)) over the samples k before each edge. */
function turnBack(y: Float64Array, start: number, step: number) {
  const n = y.length;
  const real = new Float64Array(n + 1);
  const imaginary = new Float64Array(n + 1);
  const [stepCos, stepSin] = [Math.cos(step), Math.sin(step)];
  let [cos, sin] = [Math.cos(start), Math.sin(start)];
  let [a, b] = [0, 0];
  for (let k = 0; k < n; k++) {
    real[k + 1] = a += y[k]! * cos;
    imaginary[k + 1] = b -= y[k]! * sin;
    const next = cos * stepCos - sin * stepSin;
    sin = sin * stepCos + cos * stepSin;
    cos = next;
  }
  return { real, imaginary };
}

/**
 * From sums over the samples before each edge the same sums of means over a
 * window about each sample; 0 where the window does not fit.
 */
function boxSums(sums: Float64Array, width: number): Float64Array {
  const n = sums.length - 1;
  const out = new Float64Array(n + 1);
  const first = Math.ceil(width / 2);
  // The edges of the window lie as far behind an edge of a sample for all.
  const above = Math.floor(0.5 + width / 2);
  const partAbove = 0.5 + width / 2 - above;
  const below = Math.floor(0.5 - width / 2);
  const partBelow = 0.5 - width / 2 - below;
  let sum = 0;
  for (let i = 0; i < n; i++) {
    if (i >= first && i < n - first) {
      const a = i + above;
      const b = i + below;
      sum += (sums[a]! + partAbove * (sums[a + 1]! - sums[a]!) -
        sums[b]! - partBelow * (sums[b + 1]! - sums[b]!)) / width;
    }
    out[i + 1] = sum;
  }
  return out;
}

/** Mean over a window about a place, from sums before each edge. */
function boxMean(sums: Float64Array, at: number, width: number): number {
  const upTo = (place: number) => {
    const k = Math.min(sums.length - 2, Math.floor(place));
    return sums[k]! + (place - k) * (sums[k + 1]! - sums[k]!);
  };
  return (upTo(at + width / 2) - upTo(at - width / 2)) / width;
}
