import type { RampCount } from "./count_ramp.ts";
import type { FeedbackFit } from "./feedback_fit.ts";
import type { GuessParameters } from "./guess_model.ts";
import { type CostedGuess, refineGuess } from "./guess_refine.ts";
import { placesTried, scanStroke, turnsTried } from "./guess_scan.ts";
import {
  hopShifts,
  type HopStep,
  isPossible,
  lessWholeSteps,
} from "./hop_step.ts";
import { stepsOf } from "./stroke_selection.ts";
import { powerOf } from "./stroke_signal.ts";
import { typicalStroke } from "./typical_stroke.ts";

/** Fewer steps than this are anyone's guess. */
const fewSteps = 6;
const feedbackTried = [0.2, 0.6, 0.95, 1.3, 1.8, 2.4, 3.2];
/** Guesses that are refined. */
const mostRefined = 10;
/** Rounds that they get, and that the best few get beyond. */
const [firstRounds, moreRounds] = [10, 20];
/** Guesses that are given. */
const mostGuesses = 3;

/** Rates that are tried: all of few, and what a hop may have made of more. */
function stepsTried(counted: number): number[] {
  return counted < fewSteps
    ? [0.8, 0.95, 1.1, 1.3, 1.5, 1.75, 2, 2.25, 2.5, 2.75, 3]
      .concat(Array.from({ length: 14 }, (_, k) => 3.25 + 0.25 * k))
    : Array.from({ length: 11 }, (_, k) => counted + 0.25 * (k - 5));
}

/** A hop with what it was guessed with. */
export interface HopGuess {
  /** `null` for fringes without a hop. */
  readonly hop: HopStep | null;
  /** Steps per ramp (1). */
  readonly steps: number;
  readonly feedbackParameter: number;
  /** Phase at the middle of the ramp below the hop, in rad. */
  readonly offset: number;
  /** Relative growth of the fringes over half the ramp (1). */
  readonly growth: number;
}

/**
 * Guesses a hop where no fit without it tells anything: the excess-phase equation
 * on a straight power ramp, at many C, steps, phases, places and phase steps, on a
 * rising and a falling stroke that are like the others. What each finds is then
 * refined on both together.
 *
 * @param count A count without the hop.
 * @param leastGain Gain of a hop in -2 ln L above which it is one: no less than what
 * may come of a lag and of what else the guess leaves out (1).
 * @returns The best guesses that differ, best first, and last that without a hop:
 * alone where the strokes do as well so.
 */
export function guessHops(count: RampCount, leastGain: number): HopGuess[] {
  const members = (["up", "down"] as const).flatMap((direction) =>
    typicalStroke(count, direction) ?? []
  );
  if (members.length < 2) return [];
  const found: CostedGuess[] = [];
  for (const c of feedbackTried) {
    for (const steps of stepsTried(stepsOf(count))) {
      const [up, down] = members.map((member) => scanStroke(member, c, steps));
      for (let d = 0; d < turnsTried; d++) {
        let best: CostedGuess | null = null;
        for (let i = 0; i < placesTried.length; i++) {
          for (let j = 0; j < placesTried.length; j++) {
            const cost = up!.costs[d]![i]! + down!.costs[d]![j]!;
            if (cost >= (best?.cost ?? Infinity)) continue;
            const [a, b] = [placesTried[i]!, placesTried[j]!];
            if (!isPossible({ up: a, down: b, shift: 0 })) continue;
            const [p, q] = [up!.offsets[d]![i]!, down!.offsets[d]![j]!];
            const apart = Math.atan2(Math.sin(q - p), Math.cos(q - p));
            best = {
              c,
              steps,
              offset: p + apart / 2,
              turns: d / turnsTried,
              up: a,
              down: b,
              lag: -apart / (2 * Math.PI * steps),
              cost,
            };
          }
        }
        if (best !== null) found.push(best);
      }
    }
  }
  found.sort((a, b) => a.cost - b.cost);
  const starts = [
    found.filter(({ turns }) => turns === 0).slice(0, mostRefined),
    apartFrom(found.filter(({ turns }) => turns > 0), mostRefined),
  ];
  const noise = (found[0]?.cost ?? 0) / (members[0]!.x.length * 2);
  const [without, refined] = starts.map((list) =>
    list.map((start) => refineGuess(members, start, noise, firstRounds))
      .sort((a, b) => a.cost - b.cost).slice(0, mostGuesses)
      .map((start) => refineGuess(members, start, noise, moreRounds))
      .sort((a, b) => a.cost - b.cost)
  );
  const [none, best] = [without![0]!, refined![0]!];
  const n = members.reduce((sum, { x }) => sum + x.length, 0);
  const hopped = n * Math.log(none.cost / best.cost) > leastGain
    ? apartFrom(refined!, mostGuesses)
    : [];
  return [...hopped, none].map((guess) => ({
    hop: guess.turns === 0 ? null : {
      up: guess.up,
      down: guess.down,
      shift: lessWholeSteps(
        2 * guess.turns / guess.steps,
        guess.steps,
        guess.c > 0.9,
      ),
    },
    steps: guess.steps,
    feedbackParameter: guess.c,
    offset: guess.offset,
    growth: members[0]!.growth,
  }));
}

/**
 * A count as a guess has it, to start a count from.
 *
 * @param count The count that the hop was guessed from.
 * @param guess The guess.
 */
export function startFrom(count: RampCount, guess: HopGuess): RampCount {
  const { steps, feedbackParameter, offset, growth } = guess;
  const hops = guess.hop === null ? [] : [guess.hop];
  const { strokes } = count;
  const signals = count.signals.map((signal, i) => {
    if (!signal) return null;
    const power = powerOf(signal);
    const shifts = hopShifts(power, hops, strokes[i]!.direction);
    return { ...signal, power, x: signal.x.map((x, k) => x + shifts[k]!) };
  });
  const counts = count.counts.map((own, i) => {
    const signal = signals[i];
    if (!own || !signal) return null;
    // Two strokes are fitted together.
    const other = signals[i + 1] ?? signals[i - 1];
    const length = signal.x.length + (other?.x.length ?? 0);
    const model: FeedbackFit = {
      steps,
      standardUncertainty: 0,
      feedbackParameter,
      feedbackUncertainty: 0,
      angle: 0,
      offset,
      phase: [Math.PI * steps, 0, 0],
      amplitude: 0,
      growth,
      fitted: new Float64Array(length),
      background: new Float64Array(length),
      noise: own.sampleNoise,
      cost: Infinity,
      converged: false,
    };
    return { ...own, model };
  });
  const waveforms = strokes.map(() => null);
  return { ...count, signals, counts, waveforms, hops };
}

/** The first few that differ from one another. */
function apartFrom<T extends GuessParameters>(
  list: readonly T[],
  most: number,
) {
  const out: T[] = [];
  for (const one of list) {
    if (out.length >= most) break;
    const alike = out.some((other) =>
      Math.abs(other.steps - one.steps) < 0.2 &&
      Math.abs(other.turns - one.turns) < 0.12 &&
      Math.abs(other.up - one.up) < 0.1
    );
    if (!alike) out.push(one);
  }
  return out;
}
