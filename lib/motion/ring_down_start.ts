import { checkpoint } from "../progress/mod.ts";
import { strongestLine, thinned } from "./line_search.ts";

/** f0 in Hz, ζ, a and b in m: what a mode is fitted from. */
export type ModeStart = readonly [number, number, number, number];

/** End value in m and one mode to start a fit from. */
export interface RingDownStart {
  readonly endValue: number;
  readonly mode: ModeStart;
}

/** Damping ratios that are tried. */
const dampings = [1e-4, 1e-3, 3e-3, 0.01, 0.02, 0.04, 0.08, 0.16, 0.3, 0.6];
/** Frequencies beside the strongest line, in parts of 1/duration. */
const detunings = [-1, -0.75, -0.5, -0.25, 0, 0.25, 0.5, 0.75, 1];
const mostStarts = 3;

/**
 * Where to start the fit of one decaying mode: for each frequency near the
 * strongest line and each of some dampings, the end value and both amplitudes
 * follow by linear least squares; the places that leave least and are not
 * neighbours come first. The phase of the decay may be any.
 *
 * @param tail The displacement from the release on, in m; `NaN` in gaps.
 * @param samplingRate Samples per second, in Hz.
 * @returns At most three starts, the best first.
 *
 * Source: Golub, Pereyra 1973 (variable projection).
 */
export function startsOfRingDown(
  tail: Float64Array,
  samplingRate: number,
): RingDownStart[] {
  const thin = thinned(tail, 1 << 14);
  const rate = samplingRate / thin.step;
  const line = strongestLine(thin.values, rate);
  const duration = thin.values.length / rate;
  const tried: {
    start: RingDownStart;
    squares: number;
    i: number;
    j: number;
  }[] = [];
  detunings.forEach((detuning, i) => {
    checkpoint();
    const damped = line + detuning / duration;
    if (!(damped > 0.2 / duration && damped < rate / 2)) return;
    dampings.forEach((zeta, j) => {
      const natural = damped / Math.sqrt(1 - zeta * zeta);
      const found = solveDecay(tail, thin.step, samplingRate, damped, zeta);
      if (found === null) return;
      const { endValue, a, b, squares } = found;
      const start = { endValue, mode: [natural, zeta, a, b] as const };
      tried.push({ start, squares, i, j });
    });
  });
  tried.sort((first, second) => first.squares - second.squares);
  const apart: typeof tried = [];
  for (const place of tried) {
    if (apart.length >= mostStarts) break;
    const near = apart.some(({ i, j }) =>
      Math.abs(i - place.i) <= 2 && Math.abs(j - place.j) <= 2
    );
    if (!near) apart.push(place);
  }
  return apart.map(({ start }) => start);
}

/** x∞ + e^{-ζω₀t} (a cos ω_d t + b sin ω_d t) by linear least squares. */
function solveDecay(
  x: Float64Array,
  step: number,
  samplingRate: number,
  damped: number,
  zeta: number,
): { endValue: number; a: number; b: number; squares: number } | null {
  const angle = 2 * Math.PI * damped * step / samplingRate;
  const shrink = Math.exp(-zeta / Math.sqrt(1 - zeta * zeta) * angle);
  const turnReal = shrink * Math.cos(angle);
  const turnImaginary = shrink * Math.sin(angle);
  let c = 1, s = 0;
  let n = 0, sc = 0, ss = 0, scc = 0, scs = 0, sss = 0;
  let sx = 0, sxc = 0, sxs = 0, sxx = 0;
  const origin = x.find((value) => value === value) ?? 0;
  for (let i = 0; i < x.length; i += step) {
    const value = x[i]! - origin;
    if (value === value) {
      n++;
      sc += c;
      ss += s;
      scc += c * c;
      scs += c * s;
      sss += s * s;
      sx += value;
      sxc += value * c;
      sxs += value * s;
      sxx += value * value;
    }
    const next = c * turnReal - s * turnImaginary;
    s = c * turnImaginary + s * turnReal;
    c = next;
  }
  if (n < 4) return null;
  // Without the mean two unknowns are left.
  const cc = scc - sc * sc / n;
  const cs = scs - sc * ss / n;
  const dd = sss - ss * ss / n;
  const yc = sxc - sx * sc / n;
  const ys = sxs - sx * ss / n;
  const determinant = cc * dd - cs * cs;
  if (!(determinant > 1e-9 * cc * dd)) return null;
  const a = (yc * dd - ys * cs) / determinant;
  const b = (ys * cc - yc * cs) / determinant;
  const squares = sxx - sx * sx / n - a * yc - b * ys;
  if (!Number.isFinite(squares)) return null;
  return { endValue: origin + (sx - a * sc - b * ss) / n, a, b, squares };
}
