import { normalQuantile } from "../fit/mod.ts";
import type { RampCount } from "./count_ramp.ts";
import { farthest, type HopStep, isPossible } from "./hop_step.ts";
import { joinValues } from "../memory/mod.ts";
import {
  type ChangePart,
  fittedInPairs,
  fittedRuns,
  residualsOf,
} from "./residual_scan.ts";
import { stepsOf } from "./stroke_selection.ts";

/** Share of captures without a hop that may show one (1). */
const falseAlarms = 1e-3;

/** Part of the square of a step's size that the fit must not make up for (1). */
const leastLeft = 1e-6;

/** What the fits leave says of a step of the phase. */
export interface HopScore {
  /** Shift of the current above the hop, from -1 to 1 on the ramp (1). */
  readonly shift: number;
  /** Its standard deviation (1). */
  readonly deviation: number;
  /** Change of the steps per change of the shift (1). */
  readonly sensitivity: number;
  /** Shift over deviation (1). */
  readonly significance: number;
  /** Share of the strokes that show it by themselves (1). */
  readonly share: number;
}

/**
 * Scores steps of the phase in what the fits left: a shift of the current above
 * x₀ leaves dF/dx H(x - x₀), H being 0 below x₀ and 1 above, less what the fit
 * made up for. All strokes of both directions share the shift, and the strokes of
 * one direction the place: a knock, or a lag, shifts them differently. How much
 * they differ counts as their noise where it is more than that of the samples.
 *
 * @param count The counted strokes.
 * @param lags Change of the current by lags, for each sample of the record: such
 * a change is not taken for a hop.
 */
export function createHopScores(
  count: RampCount,
  lags: readonly Float64Array[],
) {
  const paired = fittedInPairs(count);
  const steps = stepsOf(count);
  const groups = fittedRuns(count, paired).flatMap((members) => {
    const residuals = residualsOf(
      members.map(({ run }) => run),
      paired && steps < 4 ? 2 : 3,
      [
        ...(paired ? [timeAlong(members.map(({ run }) => run.x.length))] : []),
        ...lags.map((lag) =>
          joinValues(
            members.map(({ stroke }) => lag.subarray(stroke.start, stroke.end)),
          )
        ),
      ],
    );
    return residuals === null ? [] : [{ residuals, members }];
  });
  const directions = (["up", "down"] as const).filter((direction) =>
    groups.some(({ members }) =>
      members.some(({ stroke }) => stroke.direction === direction)
    )
  );

  const score = (
    tried: readonly {
      readonly up: ChangePart | null;
      readonly down: ChangePart | null;
    }[],
  ): HopScore | null => {
    const responses = tried.map(({ up, down }, g) =>
      groups[g]!.residuals.together(
        [up, down].filter((p) => p !== null),
        leastLeft,
      )
    );
    const seen = responses.filter(({ size }) => size > 0);
    const found = judge(seen.reduce(added, nothing));
    if (found === null) return null;
    const { shift } = found;
    let [weighted, below] = [0, 0];
    for (const { size, asSteps } of seen) {
      weighted += size * asSteps;
      below += size;
    }
    return {
      ...found,
      sensitivity: -steps * weighted / below,
      share:
        seen.filter(({ part, size }) =>
          Math.sign(shift) * part / Math.sqrt(size) > 1
        ).length / seen.length,
    };
  };

  /** The response of each group to steps at some places of one direction. */
  const responsesOf = (direction: "up" | "down", places: readonly number[]) =>
    groups.map(({ residuals, members }) => {
      const run = members.findIndex(({ stroke }) =>
        stroke.direction === direction
      );
      return run < 0 ? null : residuals.stepsAt(run, places);
    });

  return {
    /** The score of a hop that is known. */
    at(hop: HopStep): HopScore | null {
      const [up, down] = (["up", "down"] as const).map((direction) =>
        hop[direction] === null
          ? groups.map(() => null)
          : responsesOf(direction, [hop[direction]!])
      );
      return score(
        groups.map((_, g) => ({
          up: up![g]?.[0] ?? null,
          down: down![g]?.[0] ?? null,
        })),
      );
    },
    /** The hop that stands out most; `null` where none does. */
    strongest(): HopStep | null {
      if (groups.length < 2) return null;
      const count = placesOf(steps);
      const places = Array.from(
        { length: count },
        (_, k) => farthest * (2 * (k + 0.5) / count - 1),
      );
      const up = responsesOf("up", places);
      const down = responsesOf("down", places);
      // Groups of one stroke add up for each direction by itself.
      const single = groups.every(({ members }) => members.length === 1);
      const sums = (responses: typeof up) =>
        places.map((_, k) =>
          groups.reduce((sum, { residuals }, g) => {
            const part = responses[g]?.[k];
            return part
              ? added(sum, residuals.together([part], leastLeft))
              : sum;
          }, nothing)
        );
      const [upSums, downSums] = single ? [sums(up), sums(down)] : [[], []];
      const scoreAt = (i: number | null, j: number | null) =>
        single
          ? judge(
            joined(
              i === null ? nothing : upSums[i]!,
              j === null ? nothing : downSums[j]!,
            ),
          )
          : score(
            groups.map((_, g) => ({
              up: i === null ? null : up[g]?.[i] ?? null,
              down: j === null ? null : down[g]?.[j] ?? null,
            })),
          );
      let best: HopStep | null = null;
      let most = 0;
      const attempt = (i: number | null, j: number | null) => {
        const found = scoreAt(i, j);
        if (found === null || found.significance <= most) return;
        most = found.significance;
        best = {
          up: i === null ? null : places[i]!,
          down: j === null ? null : places[j]!,
          shift: found.shift,
        };
      };
      if (directions.length < 2) {
        places.forEach((_, k) =>
          directions[0] === "up" ? attempt(k, null) : attempt(null, k)
        );
      } else {
        places.forEach((upper, i) =>
          places.forEach((lower, j) => {
            if (isPossible({ up: upper, down: lower, shift: 0 })) attempt(i, j);
          })
        );
      }
      if (best === null || most <= demandedOf(steps)) return null;
      return (this.at(best)?.share ?? 0) >= 0.7 ? best : null;
    },
  };
}

/** Responses of many strokes to one shift, summed up. */
interface Sums {
  readonly part: number;
  readonly size: number;
  /** Σ part²/size. */
  readonly squares: number;
  readonly strokes: number;
}

const nothing: Sums = { part: 0, size: 0, squares: 0, strokes: 0 };

function added(
  sums: Sums,
  { part, size }: { readonly part: number; readonly size: number },
): Sums {
  return !(size > 0) ? sums : joined(sums, {
    part,
    size,
    squares: part * part / size,
    strokes: 1,
  });
}

function joined(a: Sums, b: Sums): Sums {
  return {
    part: a.part + b.part,
    size: a.size + b.size,
    squares: a.squares + b.squares,
    strokes: a.strokes + b.strokes,
  };
}

/** The shift that strokes share, and how far it stands out; `null` for none. */
function judge({ part, size, squares, strokes }: Sums) {
  if (!(size > 0)) return null;
  const shift = part / size;
  const scatter = squares - shift * part;
  // The noise of the samples counts as much as what the strokes show of it.
  const freedom = Math.max(1, strokes - 1);
  const scale = Math.max(1, (freedom + scatter) / (2 * freedom));
  const deviation = Math.sqrt(scale / size);
  return { shift, deviation, significance: Math.abs(shift) / deviation };
}

/** Whether what the fits leave shows a hop. */
export function showsHop(
  count: RampCount,
  lags: readonly Float64Array[],
): boolean {
  return createHopScores(count, lags).strongest() !== null;
}

/** Places of one direction that are tried, three to a step. */
function placesOf(steps: number): number {
  return Math.max(24, Math.min(240, Math.ceil(3 * steps)));
}

/**
 * Significance that noise reaches anywhere on the ramp in one capture of a
 * thousand: a place on the rising strokes, and one of some six on the falling.
 */
export function demandedOf(steps: number): number {
  return normalQuantile(1 - falseAlarms / (6 * placesOf(steps)) / 2);
}

/** From -1 at the first to 1 at the last sample of strokes one after another. */
function timeAlong(lengths: readonly number[]): Float64Array {
  const total = lengths.reduce((sum, length) => sum + length, 0);
  return Float64Array.from(
    { length: total },
    (_, i) => 2 * i / (total - 1) - 1,
  );
}
