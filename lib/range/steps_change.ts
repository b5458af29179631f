import { warn, type Warning } from "../result/mod.ts";
import type { StrokeSteps } from "./steps_result.ts";

/** Fewest strokes of one direction that tell a course from scatter. */
const leastStrokes = 6;
/** Standard deviations beyond which a course is no chance: one in ten thousand. */
const clear = 3.7;
/** Scatter of the strokes over their own noise below which nothing is looked for. */
const beyondNoise = 1.5;
/** Relative scatter of no account (1). */
const noAccount = 1e-5;
/** Relative change of the steps from which on their mean is doubtful (1). */
const large = 0.01;

/** How the steps of the strokes change along a capture. */
export interface StepsChange {
  /** Standard uncertainty of their mean (1) by what is no steady change. */
  readonly standardUncertainty: number;
  readonly warnings: readonly Warning[];
}

/** The strokes of one direction that are used, in order of time. */
interface Course {
  readonly places: readonly number[];
  readonly steps: readonly number[];
}

/**
 * Looks whether the steps of the strokes change along a capture, as where the
 * target or the diode's temperature moved: neighbouring strokes are then more alike
 * than all of them (ratio of von Neumann). A steady change is that of a target in
 * motion, and the mean that of the middle of the capture; any other leaves the mean
 * as uncertain as the strokes scatter.
 *
 * Source: von Neumann, Ann. Math. Statist. 12, 367 (1941).
 *
 * @param strokes The strokes as they were used.
 * @param steps Their mean (1).
 */
export function stepsChange(
  strokes: readonly StrokeSteps[],
  steps: number,
): StepsChange {
  const none = { standardUncertainty: 0, warnings: [] };
  const courses = (["up", "down"] as const).map((direction): Course => {
    const used = strokes.filter((stroke) =>
      stroke.used && stroke.direction === direction
    );
    return {
      places: used.map(({ start, end }) => (start + end) / 2),
      steps: used.map((stroke) => stroke.steps),
    };
  }).filter(({ steps }) => steps.length >= leastStrokes);
  const noise = Math.hypot(
    ...strokes.flatMap((stroke) =>
      stroke.used ? [stroke.standardUncertainty] : []
    ),
  ) / Math.sqrt(strokes.length);
  const small = Math.max(beyondNoise * noise, noAccount * Math.abs(steps));
  if (
    courses.every(({ steps }) => deviation(steps) < small) ||
    alikeness(courses) < clear
  ) return none;
  const straightened = courses.map(withoutLine);
  const steady = alikeness(straightened) < clear;
  const standardUncertainty = steady ? 0 : Math.hypot(
    ...straightened.map(({ steps }) => deviation(steps)),
  ) / Math.sqrt(courses.length);
  const [first, last] = [0, -1].map((end) =>
    courses.reduce((sum, { steps }) => sum + steps.at(end)!, 0) / courses.length
  );
  const change = `The steps change along the capture, from ${
    first!.toFixed(3)
  } on its first strokes to ${last!.toFixed(3)} on its last`;
  return {
    standardUncertainty,
    warnings: [warn(
      "steps-change",
      steady
        ? `${change}, as with a target in steady motion: the count is that of the middle of the capture`
        : `${change}, and not steadily: the target or the diode's temperature moved, and the count is as uncertain as the strokes scatter. Record shorter captures, or wait until both rest`,
      standardUncertainty > large * Math.abs(steps) ? "doubtful" : "note",
    )],
  };
}

/**
 * By how many standard deviations neighbours are more alike than chance lets them:
 * (1 - η) / √((n - 2)/(n² - 1)), with η half the mean square of successive
 * differences over the variance.
 */
function alikeness(courses: readonly Course[]): number {
  let sum = 0;
  for (const { steps } of courses) {
    const n = steps.length;
    let squares = 0;
    for (let i = 1; i < n; i++) squares += (steps[i]! - steps[i - 1]!) ** 2;
    const ratio = squares / (n - 1) / 2 / deviation(steps) ** 2;
    sum += (1 - ratio) / Math.sqrt((n - 2) / (n * n - 1));
  }
  return sum / Math.sqrt(Math.max(1, courses.length));
}

function withoutLine({ places, steps }: Course): Course {
  const centre = mean(places);
  const level = mean(steps);
  let [above, below] = [0, 0];
  places.forEach((place, i) => {
    above += (place - centre) * (steps[i]! - level);
    below += (place - centre) ** 2;
  });
  const slope = above / below;
  return {
    places,
    steps: steps.map((value, i) => value - slope * (places[i]! - centre)),
  };
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

function deviation(values: readonly number[]): number {
  const centre = mean(values);
  const squares = values.reduce((sum, value) => sum + (value - centre) ** 2, 0);
  return Math.sqrt(squares / (values.length - 1));
}
