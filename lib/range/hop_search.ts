import type { Capture } from "../capture/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { countRamp, type RampCount } from "./count_ramp.ts";
import { deviance, gainOf, leavesNoise, strokeWeights } from "./count_gain.ts";
import { createHopScores, demandedOf, type HopScore } from "./hop_scan.ts";
import { guessHopCourse } from "./hop_course.ts";
import { guessHops, startFrom } from "./hop_guess.ts";
import { type HopStep, isPossible, lessWholeSteps } from "./hop_step.ts";
import { ifMeasurable } from "./if_measurable.ts";
import { placeHop } from "./hop_place.ts";
import type { RampSettings } from "./ramps.ts";
import { feedbackOf, findHops, leftOver, stepsOf } from "./stroke_selection.ts";

/** Strokes on which a hop, or a lag, is settled: two in each direction. */
export const fewStrokes = 4;
/** How well the model, amplifier and lag included, knows a phase, in turns (1). */
const modelDeviation = 0.003;
/** Phase step over the least that stands out from which on a refit is tried (1). */
const worthTrying = 0.5;
/** Fewer steps than this do not tell by what they leave that they are wrong. */
const stepsThatTell = 3;
/** Most steps with which a hop is guessed by trying everything. */
const mostGuessed = 10;
/**
 * Gain of a guess in -2 ln L from which it is tried, where the fits leave more than
 * noise and where they do not: a lag that was left out comes to some 100.
 */
const leastGain = { astray: 60, explained: 150 };
/** Unknowns of a hop: two places and a shift. */
const unknowns = 3;

/** A count of a few strokes with the hops that it was tried with. */
interface Attempt {
  readonly hops: readonly HopStep[];
  readonly counted: RampCount;
}

/**
 * Counts with one more mode hop, where the fits leave one.
 *
 * @param capture The capture.
 * @param options As for {@linkcode countRamp}, with the time constant.
 * @param plain The count without it.
 * @param lags As for {@linkcode createHopScores}.
 * @param course Lagging current in A for a time constant in s.
 * @returns The count with it and by how much it describes the strokes better, in
 * units of what chance allows; `null` where there is no hop.
 */
export function followHop(
  capture: Capture,
  options: RampSettings,
  plain: RampCount,
  lags: readonly Float64Array[],
  course: (timeConstant: number) => Float64Array,
): { counted: RampCount; gain: number } | null {
  const count = (
    hops: readonly HopStep[],
    most: number,
    before: RampCount | null,
  ) => countRamp(capture, options, most, null, hops, before);
  const steps = stepsOf(plain);
  const jumping = feedbackOf(plain) > 0.9;
  const attempts: Attempt[] = [];
  const attempt = (
    hops: readonly HopStep[],
    before: RampCount | null = null,
  ) => {
    checkpoint(0.5, "mode hop");
    // Against a current that hops elsewhere there may be no fringes.
    const counted = ifMeasurable(() => count(hops, fewStrokes, before));
    if (counted !== null) attempts.push({ hops, counted });
  };
  const explains = ({ counted }: Attempt) =>
    leftOver(counted) < 1.15 && leavesNoise(counted);
  for (const hop of candidates(plain, lags, steps)) {
    attempt(
      withHop(plain.hops, hop, steps).map((one) => ({
        ...one,
        shift: lessWholeSteps(one.shift, steps, jumping),
      })),
    );
    if (attempts.some(explains)) break;
  }
  if (plain.hops.length === 0) {
    const astray = !leavesNoise(plain);
    const open = steps < stepsThatTell
      ? jumping || astray
      : astray && !attempts.some(explains);
    if (open && isGuessed(plain, steps)) {
      for (
        const guess of guessHops(
          plain,
          astray ? leastGain.astray : leastGain.explained,
        )
      ) {
        if (guess.hop === null && !astray) continue;
        attempt(guess.hop === null ? [] : [guess.hop], startFrom(plain, guess));
      }
    }
    const guess = open
      ? guessHopCourse(plain, course, options.thermalTimeConstant ?? 0)
      : null;
    if (guess !== null) {
      const shift = lessWholeSteps(guess.hop.shift, steps, jumping);
      attempt([{ ...guess.hop, shift }]);
    }
  }
  if (attempts.length === 0) return null;
  const [first, second] = bestFirst(attempts);
  const settle = ({ hops, counted }: Attempt) =>
    settleHops(capture, options, counted, hops, lags);
  let settled = settle(first!);
  // One that starts off worse may settle better.
  if (second !== undefined && !explains(settled)) {
    settled = bestFirst([settled, settle(second)])[0]!;
  }
  const whole = count(settled.hops, Infinity, settled.counted);
  if (!(gainOf(plain, whole, unknowns) > 0)) return null;
  // Fits that went astray do better from anywhere else: the same without.
  const without = count(plain.hops, Infinity, whole);
  const better = gainOf(plain, without, 0);
  const gain = gainOf(better > 0 ? without : plain, whole, unknowns);
  return gain > 0 && standsOut(whole, lags)
    ? { counted: whole, gain: gain + Math.max(0, better) }
    : better > 0
    ? { counted: without, gain: better }
    : null;
}

/** Attempts in order of what they leave. */
function bestFirst(attempts: readonly Attempt[]): Attempt[] {
  const weights = strokeWeights(attempts.map(({ counted }) => counted));
  const cost = ({ counted }: Attempt) => deviance(counted, weights);
  return [...attempts].sort((a, b) => cost(a) - cost(b));
}

/**
 * Whether every hop is where one can be, and its phase step stands out of the
 * noise and of what the model itself may be wrong by.
 */
export function standsOut(
  counted: RampCount,
  lags: readonly Float64Array[],
): boolean {
  const scores = createHopScores(counted, lags);
  const steps = stepsOf(counted);
  return counted.hops.every((hop) =>
    isPossible(hop) && turnsOver(scores.at(hop), hop, steps) > 1
  );
}

/** The phase step of a hop over the least that stands out; 0 without a score. */
function turnsOver(
  score: HopScore | null,
  { shift }: HopStep,
  steps: number,
): number {
  if (score === null) return 0;
  const turns = lessWholeSteps(shift, steps, false) * steps / 2;
  return Math.abs(turns) /
    (demandedOf(steps) *
      Math.hypot(score.deviation * steps / 2, modelDeviation));
}

/**
 * The hops at the places and with the shifts that leave least, on a few strokes.
 *
 * @param counted A count with the hops as given.
 * @returns The hops, with the count of a few strokes.
 */
export function settleHops(
  capture: Capture,
  options: RampSettings,
  counted: RampCount,
  hops: readonly HopStep[],
  lags: readonly Float64Array[],
): Attempt {
  const weights = strokeWeights([counted]);
  let best: Attempt & { readonly cost: number } = {
    hops,
    counted,
    cost: deviance(counted, weights),
  };
  let factor = 1;
  let last = 0;
  for (let round = 0; round < 6; round++) {
    const placed = round < 2 ? placeHops(best.counted, best.hops) : best.hops;
    const scores = createHopScores(best.counted, lags);
    const found = best.hops.map((hop) => scores.at(hop));
    // The fits make up for some of what a wrong shift leaves: a secant.
    const change = found[found.length - 1]?.shift ?? 0;
    if (last !== 0) {
      factor = Math.max(0.5, Math.min(3, factor / (1 - change / last)));
    }
    last = change;
    const steps = stepsOf(best.counted);
    const next = placed.map((hop, k) => {
      const most = 0.3 / steps;
      const more = factor * (found[k]?.shift ?? 0);
      return {
        ...hop,
        shift: hop.shift + Math.max(-most, Math.min(most, more)),
      };
    });
    const here = ifMeasurable(() =>
      countRamp(capture, options, fewStrokes, null, next, best.counted)
    );
    if (here === null) break;
    const cost = deviance(here, weights);
    if (!(cost < best.cost)) break;
    best = { hops: next, counted: here, cost };
    if (
      round > 0 &&
      found.every((f) => f === null || Math.abs(f.shift) < 0.3 * f.deviation)
    ) break;
  }
  return best;
}

/** Whether all is tried for a hop where the fits do not tell. */
function isGuessed({ hops }: RampCount, steps: number): boolean {
  return hops.length === 0 && steps < mostGuessed;
}

/** Hops to try, from breaks of the phase and from what the fits leave. */
function candidates(
  plain: RampCount,
  lags: readonly Float64Array[],
  steps: number,
): HopStep[] {
  const found: HopStep[] = [];
  const scores = createHopScores(plain, lags);
  const strongest = scores.strongest();
  // Where all but noise is explained, a step far below what would stand out in the
  // end is what the model itself is wrong by: no refit makes more of it.
  const hop = strongest !== null && leavesNoise(plain) &&
      turnsOver(scores.at(strongest), strongest, steps) < worthTrying
    ? null
    : strongest;
  if (plain.hops.length === 0 && (hop !== null || !leavesNoise(plain))) {
    const broken = commonHop(plain, steps);
    if (broken !== null) found.push(broken);
  }
  if (hop !== null) {
    found.push(hop);
    // What a large step leaves tells its place, and its size only roughly.
    if (Math.abs(hop.shift) * steps / 2 > 0.05 && !isGuessed(plain, steps)) {
      for (const turns of [0.25, 0.5, 0.75]) {
        found.push({ ...hop, shift: hop.shift + 2 * turns / steps });
      }
    }
  }
  return found;
}

/** A hop as breaks of the phase show it on the strokes of both directions. */
function commonHop(plain: RampCount, steps: number): HopStep | null {
  const { strokes, signals, waveforms } = plain;
  const breaks = findHops(strokes, signals, waveforms);
  const [up, down] = [breaks.up[0] ?? null, breaks.down[0] ?? null];
  if (up === null && down === null) return null;
  const has = (direction: "up" | "down") =>
    strokes.some((stroke) => stroke.direction === direction);
  const sum = (of: (angle: number) => number) =>
    (up ? of(up.phase) : 0) + (down ? of(down.phase) : 0);
  const hop = {
    up: has("up") ? up?.x ?? down!.x : null,
    down: has("down") ? down?.x ?? up!.x : null,
    shift: Math.atan2(sum(Math.sin), sum(Math.cos)) / (Math.PI * steps),
  };
  return isPossible(hop) ? hop : null;
}

/** The hops with one more; one that is there already is shifted further. */
function withHop(
  hops: readonly HopStep[],
  hop: HopStep,
  steps: number,
): HopStep[] {
  const near = (a: number | null, b: number | null) =>
    a !== null && b !== null && Math.abs(a - b) < 1 / steps;
  const same = hops.findIndex((known) =>
    near(known.up, hop.up) || near(known.down, hop.down)
  );
  return same < 0
    ? [...hops, hop]
    : hops.map((known, k) =>
      k === same ? { ...known, shift: known.shift + hop.shift } : known
    );
}

/** The hops at the places that a count asks for. */
function placeHops(counted: RampCount, hops: readonly HopStep[]): HopStep[] {
  const reach = Math.min(0.3, 1.5 / stepsOf(counted));
  return hops.map((hop) => ({
    ...hop,
    up: hop.up === null ? null : placeHop(counted, hop, "up", reach),
    down: hop.down === null ? null : placeHop(counted, hop, "down", reach),
  }));
}
