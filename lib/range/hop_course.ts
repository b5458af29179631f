import type { RampCount } from "./count_ramp.ts";
import { type HopStep, isPossible } from "./hop_step.ts";
import { fringePhase } from "./mode_hop.ts";
import { joinValues } from "../memory/mod.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import { median, stepsOf } from "./stroke_selection.ts";
import { powerOf } from "./stroke_signal.ts";

/** Time constants that are tried, as parts of a stroke; the finer ones between. */
const coarseLags = [0, 0.006, 0.012, 0.024, 0.04, 0.065, 0.1];
const fineFactors = [0.7, 0.8, 0.9, 1, 1.12, 1.25, 1.4];
/** A stroke whose phase is farther than this from the others' is disturbed (1). */
const disturbed = 3;

/** Points of the phase beyond the unknowns that tell a hop. */
const leastSpare = 6;

/** A mode hop together with the lag under which its phase is even. */
export interface CourseGuess {
  readonly hop: HopStep;
  /** Time constant, in s. */
  readonly timeConstant: number;
}

/** Phase of the fringes that the strokes of one direction have in common. */
interface Course {
  readonly direction: "up" | "down";
  /** Drive current, from -1 at the lower to 1 at the upper end of the ramp (1). */
  readonly place: Float64Array;
  /** Phase, in rad. */
  readonly phase: Float64Array;
  /** Sample of the record at each point, of a stroke that is like the others. */
  readonly sample: Float64Array;
}

/**
 * Guesses a hop and a lag together from the phase of the fringes, averaged over
 * each: φ = a + b x_τ + c P₂ + d P₃ + δ H(x - x₀), with a and the place x₀ those of
 * the direction and all else shared. Each by itself passes for some of the other.
 *
 * @param count A count without hops, under whatever lag.
 * @param course Lagging current in A for a time constant in s.
 * @param given Time constant in s where it is known, or `null` to look for one.
 * @returns `null` below 5 steps.
 */
export function guessHopCourse(
  count: RampCount,
  course: (timeConstant: number) => Float64Array,
  given: number | null,
): CourseGuess | null {
  const courses = (["up", "down"] as const).flatMap((direction) => {
    const found = commonCourse(count, direction);
    return found === null ? [] : [found];
  });
  if (courses.length === 0) return null;
  const steps = stepsOf(count);
  const of = (direction: "up" | "down") =>
    courses.findIndex((one) => one.direction === direction);
  const [up, down] = [of("up"), of("down")];
  const { low, span, ramps } = count;
  const joined = (part: (one: Course) => Float64Array) =>
    joinValues(courses.map(part));
  const phase = joined((one) => one.phase);
  const bends = legendreColumns(joined((one) => one.place), 3);
  const offsets = courses.map((own) =>
    joined((one) =>
      new Float64Array(one.phase.length).fill(one === own ? 1 : 0)
    )
  );
  let best: CourseGuess & { residualSum: number } | null = null;
  const attempt = (
    timeConstant: number,
    places: {
      readonly up: readonly number[];
      readonly down: readonly number[];
    },
  ) => {
    const lagged = course(timeConstant);
    const along = joined(({ sample }) =>
      sample.map((at) => 2 * (between(lagged, at) - low) / span - 1)
    );
    for (const upper of up < 0 ? [null] : places.up) {
      for (const lower of down < 0 ? [null] : places.down) {
        const hop = { up: upper, down: lower, shift: 0 };
        if (!isPossible(hop)) continue;
        const above = joined(({ direction, place }) =>
          place.map((x) => x > hop[direction]! ? 1 : 0)
        );
        // Averages over the hop hold both sides: they are left out.
        const keep = joined(({ direction, place }) =>
          place.map((x) => Math.abs(x - hop[direction]!) > 1.1 / steps ? 1 : 0)
        );
        const fit = solveColumns(
          [...offsets, along, bends[2]!, bends[3]!, above],
          phase,
          keep,
        );
        const kept = keep.reduce((sum, value) => sum + value, 0);
        const spare = kept - offsets.length - 6;
        if (fit === null || spare < leastSpare) continue;
        const residualSum = fit.residualSum / spare;
        if (!(residualSum < (best?.residualSum ?? Infinity))) continue;
        const c = fit.coefficients;
        const shift = c.at(-1)! / c[offsets.length]!;
        best = { hop: { ...hop, shift }, timeConstant, residualSum };
      }
    }
  };
  const tries = Math.max(24, Math.min(60, Math.ceil(1.5 * steps)));
  const everywhere = Array.from(
    { length: tries },
    (_, k) => 0.85 * (2 * (k + 0.5) / tries - 1),
  );
  const near = (place: number | null) =>
    Array.from({ length: 9 }, (_, k) => (place ?? 0) + (k - 4) * 0.3 / steps);
  const lags = given !== null
    ? [given]
    : coarseLags.map((part) => part * ramps.strokeDuration);
  for (const lag of lags) attempt(lag, { up: everywhere, down: everywhere });
  const coarse = best as CourseGuess | null;
  if (coarse === null) return null;
  const around = { up: near(coarse.hop.up), down: near(coarse.hop.down) };
  const fine = given !== null || coarse.timeConstant === 0
    ? [coarse.timeConstant]
    : fineFactors.map((factor) => factor * coarse.timeConstant);
  for (const lag of fine) attempt(lag, around);
  return best;
}

/** What the strokes of one direction that are alike have in common. */
function commonCourse(
  { strokes, signals, waveforms }: RampCount,
  direction: "up" | "down",
): Course | null {
  const traces = strokes.flatMap((stroke, i) => {
    const [signal, fit] = [signals[i], waveforms[i]];
    if (
      stroke.direction !== direction || !signal || !fit ||
      signal.x.length !== stroke.end - stroke.start
    ) return [];
    const trace = fringePhase(signal, fit);
    if (trace === null) return [];
    const sample = trace.x.map((x) => sampleAt(signal.x, x));
    const power = powerOf(signal);
    return [{
      place: sample.map((at) => between(power, at)),
      phase: trace.phase.map((value, k) =>
        value + Math.PI * fit.steps * trace.x[k]!
      ),
      sample: sample.map((at) => at + stroke.start),
    }];
  });
  if (traces.length === 0) return null;
  const from = Math.max(...traces.map(({ place }) => place[0]!));
  const to = Math.min(...traces.map(({ place }) => place.at(-1)!));
  const points = median(traces.map(({ place }) => place.length));
  const grid = Float64Array.from(
    { length: points },
    (_, k) => from + (to - from) * k / (points - 1),
  );
  const onGrid = traces.map(({ place, phase, sample }) => {
    const at = grid.map((x) => sampleAt(place, x));
    const values = at.map((k) => between(phase, k));
    const middle = median([...values]);
    return {
      phase: values.map((value) => value - middle),
      sample: at.map((k) => between(sample, k)),
    };
  });
  const usual = grid.map((_, k) =>
    median(onGrid.map(({ phase }) => phase[k]!))
  );
  const apart = onGrid.map(({ phase }) =>
    Math.sqrt(
      phase.reduce((sum, value, k) => sum + (value - usual[k]!) ** 2, 0) /
        points,
    )
  );
  const most = disturbed * median(apart);
  const alike = onGrid.filter((_, i) => apart[i]! <= most);
  return {
    direction,
    place: grid,
    phase: grid.map((_, k) =>
      alike.reduce((sum, { phase }) => sum + phase[k]!, 0) / alike.length
    ),
    sample: alike.at(-1)!.sample,
  };
}

/** Where a course that rises or falls throughout passes a value, in samples. */
function sampleAt(values: Float64Array, value: number): number {
  const n = values.length;
  const sign = values[n - 1]! > values[0]! ? 1 : -1;
  let [low, high] = [0, n - 1];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (sign * (values[middle]! - value) <= 0) low = middle;
    else high = middle;
  }
  const part = (value - values[low]!) / (values[high]! - values[low]! || 1);
  return low + Math.max(0, Math.min(1, part));
}

/** A value between samples. */
function between(values: Float64Array, position: number): number {
  const i = Math.max(0, Math.min(values.length - 2, Math.floor(position)));
  return values[i]! + (position - i) * (values[i + 1]! - values[i]!);
}
