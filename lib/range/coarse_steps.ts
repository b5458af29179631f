import { checkpoint } from "../progress/mod.ts";
import { nextPowerOfTwo, realFourierTransform } from "../signal/mod.ts";
import { dot, legendreColumns, solveColumns } from "./normal_equations.ts";
import {
  ends,
  removePowerRamp,
  resample,
  type StrokeSignal,
  thin,
} from "./stroke_signal.ts";

/** Mask of the samples between two checkpoints. */
const stride = 0xffff;

/**
 * First guess of the steps per whole ramp (x from -1 to 1): the line of the
 * spectrum above about 4 steps, a least-squares search with the power ramp
 * below.
 *
 * @returns The steps per ramp (1) and the share of the scatter about the power
 * ramp that a cosine of that rate explains (0 to 1).
 */
export function coarseSteps(signal: StrokeSignal): {
  steps: number;
  explained: number;
} {
  const [low, high] = ends(signal.x);
  const part = (high - low) / 2;
  const explainedBy = createExplained(signal);
  const [few, many] = [fewSteps(signal), manySteps(signal, part)].map((
    steps,
  ) => ({ steps, explained: explainedBy(steps) }));
  return many!.explained > few!.explained ? many! : few!;
}

function manySteps(signal: StrokeSignal, part: number): number {
  const count = nextPowerOfTwo(signal.x.length);
  const even = resample(signal, count);
  const flat = removePowerRamp(even, 2);
  const windowed = flat.map((value, i) => {
    if ((i & stride) === stride) checkpoint();
    return value * Math.sin(Math.PI * (i + 0.5) / count) ** 2;
  });
  const { real, imaginary } = realFourierTransform(windowed, {
    length: 4 * count,
  });
  let best = 12;
  let power = 0;
  for (let k = 12; k < real.length; k++) {
    if ((k & stride) === stride) checkpoint();
    const here = real[k]! ** 2 + imaginary[k]! ** 2;
    if (here > power) [best, power] = [k, here];
  }
  const size = (k: number) => Math.hypot(real[k] ?? 0, imaginary[k] ?? 0);
  const [a, b, c] = [size(best - 1), size(best), size(best + 1)];
  const shift = a - 2 * b + c === 0 ? 0 : (a - c) / (2 * (a - 2 * b + c));
  return (best + shift) / 4 / part;
}

function fewSteps(signal: StrokeSignal): number {
  const explainedBy = createExplained(thin(signal, 300));
  let best = { steps: NaN, explained: -1 };
  for (let steps = 0.6; steps <= 6; steps += 0.1) {
    const explained = explainedBy(steps);
    if (explained > best.explained) best = { steps, explained };
  }
  return best.steps;
}

/** Share of the scatter about the power ramp that a cosine of some steps explains. */
function createExplained(
  { x, y }: StrokeSignal,
): (steps: number) => number {
  const background = legendreColumns(x, 2);
  const without = solveColumns(background, y)!;
  // A signal without scatter has no fringes.
  if (!(without.residualSum > 1e-20 * dot(y, y))) return () => 0;
  const cosine = new Float64Array(x.length);
  const sine = new Float64Array(x.length);
  return (steps) => {
    checkpoint();
    for (let i = 0; i < x.length; i++) {
      if ((i & stride) === stride) checkpoint();
      const angle = Math.PI * steps * x[i]!;
      cosine[i] = Math.cos(angle);
      sine[i] = Math.sin(angle);
    }
    const fit = solveColumns([...background, cosine, sine], y);
    return fit === null ? 0 : 1 - fit.residualSum / without.residualSum;
  };
}
