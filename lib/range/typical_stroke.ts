import type { RampCount } from "./count_ramp.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import { median, stepsOf } from "./stroke_selection.ts";
import { powerOf, type StrokeSignal, thin } from "./stroke_signal.ts";

/** Strokes that are looked at. */
const mostStrokes = 8;
/** Samples of a stroke that are looked at, on means: at least, and to a step. */
const samplesLookedAt = { least: 160, perStep: 16 };

/** One stroke, thinned, with what the power ramp cannot make up for. */
export interface TypicalStroke {
  readonly direction: "up" | "down";
  readonly x: Float64Array;
  readonly place: Float64Array;
  /** Relative growth of the power over half the ramp (1). */
  readonly growth: number;
  /** Envelope of the fringes, like the power. */
  readonly envelope: Float64Array;
  /** Level and slope of the power, orthonormal. */
  readonly ramp: readonly [Float64Array, Float64Array];
  /** Signal without them. */
  readonly y: Float64Array;
  /** 1 where the signal grows with the power, else -1. */
  readonly sign: 1 | -1;
}

/** The stroke of one direction that is most like the others. */
export function typicalStroke(
  { strokes, signals, counts }: RampCount,
  direction: "up" | "down",
): TypicalStroke | null {
  const steps = stepsOf({ counts });
  const samples = Math.max(
    samplesLookedAt.least,
    Math.ceil(samplesLookedAt.perStep * steps),
  );
  const thinned = strokes.slice(0, mostStrokes).flatMap((stroke, i) => {
    const signal = signals[i];
    return stroke.direction === direction && signal &&
        signal.x.length === stroke.end - stroke.start
      ? [thin(signal, samples)]
      : [];
  });
  if (thinned.length === 0) return null;
  const length = Math.min(...thinned.map(({ x }) => x.length));
  const usual = Float64Array.from(
    { length },
    (_, k) => median(thinned.map(({ y }) => y[k]!)),
  );
  const far = ({ y }: StrokeSignal) =>
    usual.reduce((sum, value, k) => sum + Math.abs(y[k]! - value), 0);
  const signal = thinned.reduce((a, b) => far(b) < far(a) ? b : a);
  const place = powerOf(signal);
  const line = solveColumns(legendreColumns(place, 1), signal.y);
  if (line === null) return null;
  const [level, slope] = [line.coefficients[0]!, line.coefficients[1]!];
  const growth = Math.abs(slope) < 0.97 * Math.abs(level) ? slope / level : 0;
  const n = place.length;
  const even = new Float64Array(n).fill(1 / Math.sqrt(n));
  const mean = place.reduce((sum, value) => sum + value, 0) / n;
  const size = Math.hypot(...place.map((value) => value - mean));
  return {
    direction,
    x: signal.x,
    place,
    growth,
    envelope: place.map((value) => 1 + growth * value),
    ramp: [even, place.map((value) => (value - mean) / size)],
    y: line.residuals,
    sign: slope < 0 ? -1 : 1,
  };
}
