import type { RampCount } from "./count_ramp.ts";
import { hopShifts } from "./hop_step.ts";
import type { StrokeTrace } from "./steps_result.ts";
import { powerOf } from "./stroke_signal.ts";

/** Curves of the first counted stroke in each direction. */
export function makeTraces(
  { strokes, signals, counts, hops }: RampCount,
  current: (x: number) => number,
): StrokeTrace[] {
  return (["up", "down"] as const).flatMap((direction) => {
    const i = strokes.findIndex((stroke, k) =>
      stroke.direction === direction && counts[k] !== null
    );
    const signal = signals[i];
    const count = counts[i];
    if (!signal || !count) return [];
    const shifts = hopShifts(powerOf(signal), hops, direction);
    const shiftAt = (x: number) =>
      hops.length === 0 ? 0 : shifts[
        signal.x.reduce(
          (best, value, k) =>
            Math.abs(value - x) < Math.abs(signal.x[best]! - x) ? k : best,
          0,
        )
      ]!;
    return [{
      direction,
      current: signal.x.map((x, k) => current(x - shifts[k]!)),
      signal: signal.y,
      background: count.background,
      fitted: count.fitted,
      edges: count.edges.map((x) => current(x - shiftAt(x))),
    }];
  });
}
