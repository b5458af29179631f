import type { RampCount } from "./count_ramp.ts";
import { type HopStep, isPossible } from "./hop_step.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import { powerOf, type StrokeSignal, thin } from "./stroke_signal.ts";

/** Strokes that are looked at. */
const mostStrokes = 4;
/** Samples of a stroke that are looked at, on means. */
const mostSamples = 120;
const stepsTried = Array.from({ length: 36 }, (_, k) => 0.8 * 1.06 ** k);
const placesTried = Array.from({ length: 30 }, (_, k) => -0.87 + 0.06 * k);

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
 * A guess of a hop on few steps, where no fit without it tells anything: on each
 * stroke a cosine on a power ramp, with another amplitude and phase above some
 * place than below, at each of many rates and places. All strokes share the rate,
 * those of one direction the place.
 *
 * @returns `null` without two strokes to compare.
 */
export function guessHop(
  { strokes, signals }: Pick<RampCount, "strokes" | "signals">,
): HopGuess | null {
  const members = strokes.slice(0, mostStrokes).flatMap((stroke, i) => {
    const signal = signals[i];
    return signal
      ? [{ direction: stroke.direction, signal: thin(signal, mostSamples) }]
      : [];
  });
  if (members.length < 2) return null;
  const has = (direction: "up" | "down") =>
    members.some((member) => member.direction === direction);
  let least = Infinity;
  let best: HopGuess | null = null;
  for (const steps of stepsTried) {
    const fits = members.map(({ signal, direction }) => ({
      direction,
      broken: placesTried.map((place) => breakAt(signal, steps, place)),
    }));
    const sums = (direction: "up" | "down") =>
      placesTried.map((_, k) =>
        fits.reduce(
          (sum, fit) =>
            sum +
            (fit.direction === direction ? fit.broken[k]!.residualSum : 0),
          0,
        )
      );
    const [up, down] = [sums("up"), sums("down")];
    placesTried.forEach((upper, i) =>
      placesTried.forEach((lower, j) => {
        const place = {
          up: has("up") ? upper : null,
          down: has("down") ? lower : null,
        };
        const sum = up[i]! + down[j]!;
        if (!(sum < least) || !isPossible({ ...place, shift: 0 })) return;
        least = sum;
        let [real, imaginary] = [0, 0];
        for (const { direction, broken } of fits) {
          const { phase } = broken[direction === "up" ? i : j]!;
          real += Math.cos(phase);
          imaginary += Math.sin(phase);
        }
        const shift = Math.atan2(imaginary, real) / (Math.PI * steps);
        best = { hop: { ...place, shift }, steps };
      })
    );
  }
  return best;
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
