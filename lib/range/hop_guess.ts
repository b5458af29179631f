import type { RampCount } from "./count_ramp.ts";
import { type HopStep, isPossible } from "./hop_step.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import { stepsOf } from "./stroke_selection.ts";
import { powerOf, type StrokeSignal, thin } from "./stroke_signal.ts";

/** Strokes that are looked at. */
const mostStrokes = 4;
/** Samples of a stroke that are looked at, on means: at least, and to a step. */
const samplesLookedAt = { least: 120, perStep: 8 };
/** Fewer steps than this are anyone's guess. */
const fewSteps = 6;
const placesTried = Array.from({ length: 30 }, (_, k) => -0.87 + 0.06 * k);

/** Rates that are tried: all of few, and what a hop may have made of more. */
function stepsTried(counted: number): number[] {
  return counted < fewSteps
    ? Array.from({ length: 38 }, (_, k) => 0.8 * 1.06 ** k)
    : Array.from({ length: 21 }, (_, k) => counted + 0.12 * (k - 10));
}

/** A hop with the steps that it was guessed with. */
export interface HopGuess {
  readonly hop: HopStep;
  /** Steps per ramp (1). */
  readonly steps: number;
}

/** Cosines of one rate, with a phase of their own on either side of a place. */
interface Broken {
  readonly residualSum: number;
  /** Phase above less phase below, in rad. */
  readonly phase: number;
}

/**
 * A guess of a hop where no fit without it tells anything: on each stroke a cosine
 * on a power ramp, with another amplitude and phase above some place than below, at
 * each of many rates and places. All strokes share the rate, those of one direction
 * the place.
 *
 * @param count A count without the hop.
 * @returns `null` without two strokes to compare.
 */
export function guessHop(count: RampCount): HopGuess | null {
  const { strokes, signals } = count;
  const counted = stepsOf(count);
  const samples = Math.max(
    samplesLookedAt.least,
    Math.ceil(samplesLookedAt.perStep * counted),
  );
  const members = strokes.slice(0, mostStrokes).flatMap((stroke, i) => {
    const signal = signals[i];
    return signal
      ? [{ direction: stroke.direction, signal: thin(signal, samples) }]
      : [];
  });
  if (members.length < 2) return null;
  const has = (direction: "up" | "down") =>
    members.some((member) => member.direction === direction);
  let best: Guessed | null = null;
  const attempt = (
    steps: number,
    places: {
      readonly up: readonly number[];
      readonly down: readonly number[];
    },
  ) => {
    const fits = members.map(({ signal, direction }) => ({
      direction,
      broken: places[direction].map((place) => breakAt(signal, steps, place)),
    }));
    const sums = (direction: "up" | "down") =>
      places[direction].map((_, k) =>
        fits.reduce(
          (sum, fit) =>
            sum +
            (fit.direction === direction ? fit.broken[k]!.residualSum : 0),
          0,
        )
      );
    const [up, down] = [sums("up"), sums("down")];
    places.up.forEach((upper, i) =>
      places.down.forEach((lower, j) => {
        const place = {
          up: has("up") ? upper : null,
          down: has("down") ? lower : null,
        };
        const residualSum = up[i]! + down[j]!;
        if (
          !(residualSum < (best?.residualSum ?? Infinity)) ||
          !isPossible({ ...place, shift: 0 })
        ) return;
        let [real, imaginary] = [0, 0];
        for (const { direction, broken } of fits) {
          const { phase } = broken[direction === "up" ? i : j]!;
          real += Math.cos(phase);
          imaginary += Math.sin(phase);
        }
        const shift = Math.atan2(imaginary, real) / (Math.PI * steps);
        best = { hop: { ...place, shift }, steps, residualSum };
      })
    );
  };
  for (const steps of stepsTried(counted)) {
    attempt(steps, { up: placesTried, down: placesTried });
  }
  const coarse = best as Guessed | null;
  if (coarse === null) return null;
  const near = (place: number | null) =>
    Array.from({ length: 13 }, (_, k) => (place ?? 0) + 0.01 * (k - 6));
  attempt(coarse.steps, {
    up: near(coarse.hop.up),
    down: near(coarse.hop.down),
  });
  return best;
}

/** A guess with what it leaves. */
interface Guessed extends HopGuess {
  readonly residualSum: number;
}

function breakAt(signal: StrokeSignal, steps: number, place: number): Broken {
  const power = powerOf(signal);
  const columns = legendreColumns(power, 2);
  const cosine = signal.x.map((x) => Math.cos(Math.PI * steps * x));
  const sine = signal.x.map((x) => Math.sin(Math.PI * steps * x));
  for (const above of [true, false]) {
    const here = (value: number, i: number) =>
      power[i]! > place === above ? value : 0;
    columns.push(cosine.map(here), sine.map(here));
  }
  const fit = solveColumns(columns, signal.y);
  if (fit === null) return { residualSum: Infinity, phase: 0 };
  const c = fit.coefficients;
  return {
    residualSum: fit.residualSum,
    // a cos ψ + b sin ψ is a cosine of ψ - atan2(b, a).
    phase: Math.atan2(c[6]!, c[5]!) - Math.atan2(c[4]!, c[3]!),
  };
}
