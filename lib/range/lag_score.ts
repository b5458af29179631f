import type { Capture } from "../capture/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import type { RampCount } from "./count_ramp.ts";
import { driveOf, lagging, wholeDrive } from "./drive.ts";
import { type RampSettings, rampsOf } from "./ramps.ts";
import { joinValues } from "../memory/mod.ts";
import {
  fittedRuns,
  type Residuals,
  residualsOf,
  type StrokeRun,
} from "./residual_scan.ts";

/** What the residuals of a count say of a lag. */
export interface LagScore {
  /** Change of the time constant that they ask for, in s. */
  readonly change: number;
  /** Its standard deviation, in s. */
  readonly deviation: number;
  /** Change over deviation (1). */
  readonly significance: number;
  /** Change of the steps per change of the time constant, in 1/s. */
  readonly sensitivity: number;
}

/** How the lagging current changes with the time constant. */
export function createLagCourse(
  capture: Capture,
  options: RampSettings,
): (timeConstant: number) => Float64Array {
  const drive = wholeDrive(
    rampsOf(capture, { ...options, thermalTimeConstant: 0, turnRound: 0 }),
    driveOf(capture, options),
  );
  const { thermalFraction = 1 } = options;
  return (timeConstant) =>
    lagging(drive, timeConstant * capture.samplingRate, thermalFraction);
}

/**
 * Regresses what the fits left on the change that a lag makes. A small change δτ
 * of the time constant changes the signal by δτ F'(x) dx/dτ, with F' the slope of
 * the fitted fringes and x the lagging current.
 *
 * @param count The counted strokes.
 * @param course From {@linkcode createLagCourse}.
 * @param timeConstant Time constant that they were counted with, in s.
 * @param steps Changes over which dx/dτ is taken, in s.
 * @param paired Whether a rising and a falling stroke share the parameters of
 * their fit.
 */
export function lagScores(
  count: RampCount,
  course: (timeConstant: number) => Float64Array,
  timeConstant: number,
  steps: readonly number[],
  paired: boolean,
): LagScore[] {
  const { span } = count;
  const here = course(timeConstant);
  const slopes = steps.map((step) => {
    const there = course(timeConstant + step);
    return here.map((value, i) => {
      if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, "thermal lag");
      return 2 * (there[i]! - value) / span / step;
    });
  });
  const found = reducedGroups(count, paired).flatMap(({ group, residuals }) => {
    return [slopes.map((slope): SingleScore | null => {
      const change = residuals.ofChange(joinValues(
        group.map(({ stroke }) => slope.subarray(stroke.start, stroke.end)),
      ));
      const { part, size, asSteps } = residuals.together([change], 1e-9);
      return size > 0
        ? {
          change: part / size,
          deviation: 1 / Math.sqrt(size),
          sensitivity: -group[0]!.steps * asSteps,
        }
        : null;
    })];
  });
  return steps.map((_, k) =>
    together(found.flatMap((scores) => scores[k] ?? []))
  );
}

/** What the fits of a stroke, or of two fitted together, left. */
interface ReducedGroup {
  readonly group: readonly StrokeRun[];
  readonly residuals: Residuals;
}

/** Kept for each count, as it is asked for more than once. */
const reduced = {
  single: new WeakMap<RampCount, readonly ReducedGroup[]>(),
  paired: new WeakMap<RampCount, readonly ReducedGroup[]>(),
};

function reducedGroups(
  count: RampCount,
  paired: boolean,
): readonly ReducedGroup[] {
  const known = reduced[paired ? "paired" : "single"];
  const groups = known.get(count) ?? fittedRuns(count, paired)
    .flatMap((group) => {
      const runs = group.map(({ run }) => run);
      const residuals = residualsOf(runs, paired ? 2 : 3);
      return residuals === null ? [] : [{ group, residuals }];
    });
  known.set(count, groups);
  return groups;
}

/** The score of a stroke, or of two fitted together. */
type SingleScore = Omit<LagScore, "significance">;

/** The mean of many scores, with their scatter where that is larger. */
function together(found: readonly SingleScore[]): LagScore {
  if (found.length === 0) {
    return { change: NaN, deviation: NaN, significance: 0, sensitivity: 0 };
  }
  let [above, below, weighted] = [0, 0, 0];
  for (const { change, deviation, sensitivity } of found) {
    above += change / deviation ** 2;
    weighted += sensitivity / deviation ** 2;
    below += 1 / deviation ** 2;
  }
  const change = above / below;
  const scatter = found.reduce(
    (sum, one) => sum + ((one.change - change) / one.deviation) ** 2,
    0,
  ) / Math.max(1, found.length - 1);
  const deviation = Math.sqrt(Math.max(1, scatter) / below);
  return {
    change,
    deviation,
    significance: change / deviation,
    sensitivity: weighted / below,
  };
}
