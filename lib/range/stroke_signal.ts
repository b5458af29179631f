import { checkpoint } from "../progress/mod.ts";
import { joinValues } from "../memory/mod.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import { nthSmallest } from "./robust_weights.ts";

/** Mask of the samples between two checkpoints. */
const stride = 0xffff;

/** The fringes of one stroke as the estimators take them. */
export interface StrokeSignal {
  /** Current, from -1 at the lower to 1 at the upper end of the ramp (1). */
  readonly x: Float64Array;
  /** Monitor signal, in its unit. */
  readonly y: Float64Array;
  /**
   * First sample of the second stroke, where a rising and a falling stroke stand
   * one after the other.
   */
  readonly seam?: number;
  /**
   * Current that the power follows, on the same scale, where the wavelength lags
   * behind it and `x` is where the wavelength has got to.
   */
  readonly power?: Float64Array;
  /** Change of `x` with the time constant of the lag, in 1/s. */
  readonly lag?: Float64Array;
  /**
   * Shift of the current by mode hops where the stroke, or each of two, starts, on
   * the same scale: there the ramp turned round so much farther on.
   */
  readonly startShifts?: readonly number[];
}

/** The current that the power follows. */
export function powerOf({ x, power }: StrokeSignal): Float64Array {
  return power ?? x;
}

/**
 * The samples of a stroke that pass a test: the signal itself where all do, else
 * without its seam.
 */
export function selectSamples(
  signal: StrokeSignal,
  keep: (i: number) => boolean,
): StrokeSignal {
  const n = signal.x.length;
  let count = 0;
  for (let i = 0; i < n; i++) if (keep(i)) count++;
  if (count === n) return signal;
  const kept = new Uint32Array(count);
  for (let i = 0, k = 0; k < count; i++) if (keep(i)) kept[k++] = i;
  const pick = (values: Float64Array) => {
    const out = new Float64Array(count);
    for (let k = 0; k < count; k++) out[k] = values[kept[k]!]!;
    return out;
  };
  return {
    x: pick(signal.x),
    y: pick(signal.y),
    ...(signal.power && { power: pick(signal.power) }),
    ...(signal.lag && { lag: pick(signal.lag) }),
    ...(signal.startShifts && { startShifts: signal.startShifts }),
  };
}

/** Two neighbouring strokes, one after the other. */
export function joinStrokes(a: StrokeSignal, b: StrokeSignal): StrokeSignal {
  return {
    x: joinValues([a.x, b.x]),
    y: joinValues([a.y, b.y]),
    seam: a.x.length,
    ...(a.power && b.power && { power: joinValues([a.power, b.power]) }),
    ...(a.lag && b.lag && { lag: joinValues([a.lag, b.lag]) }),
    ...(a.startShifts && b.startShifts && {
      startShifts: [...a.startShifts, ...b.startShifts],
    }),
  };
}

/** Smallest and largest `x`. */
export function ends(x: Float64Array): [number, number] {
  const [a, b] = [x[0]!, x[x.length - 1]!];
  return a < b ? [a, b] : [b, a];
}

/** What is left after the power ramp is removed as a polynomial of current. */
export function removePowerRamp(
  signal: StrokeSignal,
  order = 2,
): Float64Array {
  return solveColumns(legendreColumns(powerOf(signal), order), signal.y)!
    .residuals;
}

/**
 * The signal at `count` currents evenly from end to end, by straight lines
 * between the samples.
 */
export function resample(
  { x, y }: StrokeSignal,
  count: number,
): StrokeSignal {
  const n = x.length;
  const [low, high] = ends(x);
  const rising = x[n - 1]! > x[0]!;
  const out = {
    x: new Float64Array(count),
    y: new Float64Array(count),
  };
  let i = rising ? 0 : n - 1;
  const step = rising ? 1 : -1;
  for (let k = 0; k < count; k++) {
    if ((k & stride) === stride) checkpoint();
    const at = low + (high - low) * k / (count - 1);
    out.x[k] = at;
    while (
      i + 2 * step >= 0 && i + 2 * step < n && x[i + step]! < at
    ) i += step;
    const [a, b] = [x[i]!, x[i + step]!];
    const part = b === a ? 0 : (at - a) / (b - a);
    out.y[k] = y[i]! + part * (y[i + step]! - y[i]!);
  }
  return out;
}

/** Means of so many neighbouring values each; a rest at the end is left out. */
export function blockMeans(
  values: ArrayLike<number>,
  block: number,
): Float64Array {
  const out = new Float64Array(Math.floor(values.length / block));
  let next = 0;
  for (let k = 0, i = 0; k < out.length; k++) {
    if (i >= next) {
      checkpoint();
      next = i + stride;
    }
    let sum = 0;
    for (const end = i + block; i < end; i++) sum += values[i]!;
    out[k] = sum / block;
  }
  return out;
}

/** Means of neighbouring samples, at most `most` of them. */
export function thin(signal: StrokeSignal, most: number): StrokeSignal {
  const n = signal.x.length;
  const block = Math.ceil(n / most);
  if (block === 1) return signal;
  return {
    x: blockMeans(signal.x, block),
    y: blockMeans(signal.y, block),
    ...(signal.power && { power: blockMeans(signal.power, block) }),
    ...(signal.startShifts && { startShifts: signal.startShifts }),
  };
}

/** Sizes of the second differences. */
function bends(y: Float64Array): Float64Array {
  const out = new Float64Array(Math.max(0, y.length - 2));
  for (let i = 0; i < out.length; i++) {
    out[i] = Math.abs(y[i]! - 2 * y[i + 1]! + y[i + 2]!);
  }
  return out;
}

/** Robust noise from sample to sample, blind to fringes and jumps. */
export function sampleNoise(y: Float64Array): number {
  const differences = bends(y);
  checkpoint();
  return 1.4826 * nthSmallest(differences, differences.length >> 1) /
    Math.sqrt(6);
}
