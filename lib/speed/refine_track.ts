import type { Spectrogram } from "../signal/mod.ts";

/**
 * Sub-bin frequency of a followed line: the centre of gravity of what rises
 * above the background within ± 3 bins of the ridge. Its bias for a steady tone
 * in a Hann window is below 0.02 bins (the window's sidelobes outside the span).
 *
 * @returns Frequency of each frame, in Hz; `NaN` where there is no line.
 */
export function refineTrack(
  { density, frequency, binWidth }: Spectrogram,
  level: Float64Array,
  path: Int32Array,
): Float64Array {
  const bins = frequency.length;
  const out = new Float64Array(path.length).fill(NaN);
  for (let frame = 0; frame < path.length; frame++) {
    const bin = path[frame]!;
    if (bin < 0) continue;
    const row = frame * bins;
    let centre = bin;
    for (let pass = 0; pass < 2; pass++) {
      const from = Math.max(1, Math.round(centre) - 3);
      const to = Math.min(bins - 2, Math.round(centre) + 3);
      let sum = 0, moment = 0;
      for (let k = from; k <= to; k++) {
        const excess = Math.max(0, density[row + k]! - 2 * level[k]!);
        sum += excess;
        moment += excess * (k - centre);
      }
      if (!(sum > 0)) break;
      centre += moment / sum;
    }
    out[frame] = centre * binWidth;
  }
  return out;
}

/** Value and slope of a series where it was followed. */
export interface SmoothTrack {
  /** Smoothed values, unit of the series; `NaN` where there is none. */
  readonly value: Float64Array;
  /** Their standard uncertainty. */
  readonly standardUncertainty: Float64Array;
  /** Change per frame; `NaN` where there is none. */
  readonly slope: Float64Array;
  /** Its standard uncertainty. */
  readonly slopeStandardUncertainty: Float64Array;
}

/**
 * Local parabola over ± `reach` frames (Savitzky and Golay 1964, Anal. Chem. 36,
 * 1627); the uncertainty follows from its residuals and from how far
 * neighbouring frames repeat each other.
 *
 * @param series One value per frame, `NaN` where there is none.
 * @param reach Frames to either side.
 * @param repetition Frames that share the same samples (1).
 */
export function smoothTrack(
  series: Float64Array,
  reach: number,
  repetition: number,
): SmoothTrack {
  const count = series.length;
  const out = {
    value: new Float64Array(count).fill(NaN),
    standardUncertainty: new Float64Array(count).fill(NaN),
    slope: new Float64Array(count).fill(NaN),
    slopeStandardUncertainty: new Float64Array(count).fill(NaN),
  };
  for (let i = 0; i < count; i++) {
    if (Number.isNaN(series[i]!)) continue;
    let from = i, to = i;
    while (from > 0 && i - from < reach && !Number.isNaN(series[from - 1]!)) {
      from--;
    }
    while (
      to < count - 1 && to - i < reach && !Number.isNaN(series[to + 1]!)
    ) to++;
    const fit = parabola(series, from, to, i);
    out.value[i] = fit.value;
    out.slope[i] = fit.slope;
    const worth = Math.sqrt(repetition);
    out.standardUncertainty[i] = fit.valueUncertainty * worth;
    out.slopeStandardUncertainty[i] = fit.slopeUncertainty * worth;
  }
  return out;
}

function parabola(series: Float64Array, from: number, to: number, at: number) {
  const points = to - from + 1;
  if (points < 5) {
    return {
      value: series[at]!,
      slope: NaN,
      valueUncertainty: NaN,
      slopeUncertainty: NaN,
    };
  }
  // Orthogonal polynomials on equidistant points.
  const middle = (from + to) / 2;
  const s2 = points * (points * points - 1) / 12;
  const mean2 = (points * points - 1) / 12;
  let s4 = 0, c0 = 0, c1 = 0, c2 = 0;
  for (let i = from; i <= to; i++) {
    const t = i - middle, q = t * t - mean2;
    s4 += q * q;
    c0 += series[i]!;
    c1 += series[i]! * t;
    c2 += series[i]! * q;
  }
  c0 /= points;
  c1 /= s2;
  c2 /= s4;
  let squares = 0;
  for (let i = from; i <= to; i++) {
    const t = i - middle;
    squares += (series[i]! - c0 - c1 * t - c2 * (t * t - mean2)) ** 2;
  }
  const sigma = Math.sqrt(squares / Math.max(1, points - 3));
  const t = at - middle;
  const q = t * t - mean2;
  return {
    value: c0 + c1 * t + c2 * q,
    slope: c1 + 2 * c2 * t,
    valueUncertainty: sigma * Math.sqrt(1 / points + t * t / s2 + q * q / s4),
    slopeUncertainty: sigma * Math.sqrt(1 / s2 + 4 * t * t / s4),
  };
}
