import { normalQuantile } from "../fit/mod.ts";
import type { RampCount } from "./count_ramp.ts";
import { farthest, type HopStep, isPossible } from "./hop_step.ts";
import {
  fittedInPairs,
  fittedRuns,
  join,
  residualsOf,
  type StepPart,
} from "./residual_scan.ts";
import { median } from "./stroke_selection.ts";

/** Share of captures without a hop that may show one (1). */
const falseAlarms = 1e-3;

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
  const steps = median(
    count.counts.flatMap((c) => c === null ? [] : [c.steps]),
  );
  const groups = fittedRuns(count, paired).flatMap((members) => {
    const residuals = residualsOf(
      members.map(({ run }) => run),
      paired && steps < 4 ? 2 : 3,
      [
        ...(paired ? [timeAlong(members.map(({ run }) => run.x.length))] : []),
        ...lags.map((lag) =>
          join(
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
      readonly up: StepPart | null;
      readonly down: StepPart | null;
    }[],
  ): HopScore | null => {
    const responses = tried.map(({ up, down }, g) =>
      groups[g]!.residuals.together([up, down].filter((p) => p !== null))
    );
    let [above, below, weighted] = [0, 0, 0];
    for (const { part, size, asSteps } of responses) {
      above += part;
      below += size;
      weighted += size * asSteps;
    }
    if (!(below > 0)) return null;
    const shift = above / below;
    const seen = responses.filter(({ size }) => size > 0);
    const scatter = seen.reduce(
      (sum, { part, size }) => sum + (part - shift * size) ** 2 / size,
      0,
    );
    // The noise of the samples counts as much as what the strokes show of it.
    const freedom = Math.max(1, seen.length - 1);
    const scale = Math.max(1, (freedom + scatter) / (2 * freedom));
    const deviation = Math.sqrt(scale / below);
    return {
      shift,
      deviation,
      sensitivity: -steps * weighted / below,
      significance: Math.abs(shift) / deviation,
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
      let best: { hop: HopStep; score: HopScore } | null = null;
      const attempt = (i: number | null, j: number | null) => {
        const found = score(
          groups.map((_, g) => ({
            up: i === null ? null : up[g]?.[i] ?? null,
            down: j === null ? null : down[g]?.[j] ?? null,
          })),
        );
        if (
          found !== null &&
          found.significance > (best?.score.significance ?? 0)
        ) {
          best = {
            hop: {
              up: i === null ? null : places[i]!,
              down: j === null ? null : places[j]!,
              shift: found.shift,
            },
            score: found,
          };
        }
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
      const found = best as { hop: HopStep; score: HopScore } | null;
      return found !== null && found.score.share >= 0.7 &&
          found.score.significance > demandedOf(steps)
        ? found.hop
        : null;
    },
  };
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
