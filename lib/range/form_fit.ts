import { beforePole, behindPole } from "./edge_pole.ts";
import { linearColumns, nonlinearColumns } from "./feedback_columns.ts";
import type { FeedbackFit, FeedbackGuess } from "./feedback_fit.ts";
import {
  addTimes,
  difference,
  dot,
  dots,
  legendreColumns,
  type NormalSystem,
  normalSystem,
  solveNormal,
} from "./normal_equations.ts";
import { robustDeviation } from "./robust_weights.ts";
import { powerOf, type StrokeSignal } from "./stroke_signal.ts";
import { turnTo } from "./turn_table.ts";

/**
 * C up to which nothing jumps and the fringes are smooth, and steps from which on
 * they do not depend on how well C and the power ramp are known.
 */
const smooth = { feedbackParameter: 0.9, steps: 8 } as const;
const mostRounds = 8;
/** Rounds after which the normal equations are summed up anew. */
const roundsHeld = 4;
/** Part of the standard uncertainty that may be left to go (1). */
const enough = 0.02;
/** rms of what is left over the robust noise from which on something stands out. */
const disturbed = 1.15;
/** How far a stroke may be from the one whose normal equations it takes (1, rad). */
const alike = { samples: 0.01, amplitude: 0.1, offset: 0.3 } as const;

/** Whether strokes like one may be fitted by {@linkcode createFormFitter}. */
export function hasForm({ feedbackParameter, steps }: FeedbackGuess): boolean {
  return feedbackParameter < smooth.feedbackParameter && steps > smooth.steps;
}

/** Parameters of the fit: power ramp, fringes, and phase. */
interface Form {
  /** Level, slope and bend of the power, cosine and sine amplitude. */
  readonly linear: Float64Array;
  /** Offset and coefficients of the phase, in rad. */
  readonly phase: Float64Array;
}

/** Normal equations of one stroke for those that are like it. */
interface HeldSystem {
  readonly system: NormalSystem;
  readonly samples: number;
  readonly guess: FeedbackGuess;
  /** Amplitude that the derivatives by the phase were taken with. */
  readonly amplitude: number;
}

function amplitudeOf({ linear }: Form): number {
  return Math.hypot(linear[3]!, linear[4]!);
}

/**
 * Makes a function that fits one stroke of a direction after another with the
 * excess-phase equation as {@linkcode fitFeedback} does, but with C and the
 * amplifier's pole held and all samples alike: where these are known from other
 * strokes, and each is much like the one that it starts from. The left side of the
 * normal equations is that of an earlier stroke as long as they are alike: what it
 * is off by changes how soon the iteration ends, and not where.
 *
 * The function takes a stroke and the fit of the one before it; it returns `null`
 * where the fit does not settle, or some samples stand out.
 */
export function createFormFitter(): (
  signal: StrokeSignal,
  guess: FeedbackGuess,
) => FeedbackFit | null {
  let held: HeldSystem | null = null;
  let ramp = new Float64Array(3);
  const room = createRoom();
  return (signal, guess) => {
    const { y } = signal;
    const n = y.length;
    const model = formModel(signal, guess, room);
    const { amplitude, angle } = guess;
    const form: Form = {
      linear: Float64Array.of(
        ...ramp,
        amplitude * Math.cos(angle),
        amplitude * Math.sin(angle),
      ),
      phase: Float64Array.of(guess.offset, ...guess.phase),
    };
    if (held !== null && !isLike(held, n, guess)) held = null;
    let lengthBefore = 0;
    for (let round = 0; round < mostRounds; round++) {
      if (held === null || round === roundsHeld) {
        const system = normalSystem(model.columns(form), y);
        const solved = solveNormal(system);
        if (solved === null) return null;
        held = { system, samples: n, guess, amplitude: amplitudeOf(form) };
        form.linear.set(solved.coefficients.subarray(0, 5));
        if (!move(form.phase, solved.coefficients.subarray(5))) return null;
        continue;
      }
      const residuals = model.residuals(form);
      const right = model.products(form, residuals);
      const solved = solveNormal({ ...held.system, right });
      if (solved === null) return null;
      const { coefficients, variance } = solved;
      const residualSum = dot(residuals, residuals);
      const spread = residualSum / Math.max(1, n - right.length);
      // Of all parameters together, in standard uncertainties.
      const length = Math.sqrt(Math.max(0, dot(coefficients, right)) / spread);
      for (let k = 0; k < 5; k++) form.linear[k]! += coefficients[k]!;
      if (!move(form.phase, coefficients.subarray(5))) return null;
      // The next step is shorter by as much as this one was.
      const next = length * Math.min(1, length / lengthBefore);
      lengthBefore = length;
      if (!(next < enough)) continue;
      ramp = form.linear.slice(0, 3);
      const noise = robustDeviation(residuals);
      if (spread > (disturbed * noise) ** 2) return null;
      const size = amplitudeOf(form);
      const [offset, ...phase] = form.phase;
      return {
        ...guess,
        steps: phase[0]! / Math.PI,
        // Those of the held stroke are as much larger as its fringes are smaller.
        standardUncertainty: Math.sqrt(spread * variance(6)) / Math.PI *
          held.amplitude / size,
        angle: Math.atan2(form.linear[4]!, form.linear[3]!),
        offset: offset!,
        phase,
        amplitude: size,
        fitted: difference(y, residuals),
        background: model.background(form),
        noise,
        cost: residualSum / noise ** 2 + 2 * n * Math.log(noise),
        converged: true,
      };
    }
    return null;
  };
}

/** Whether a stroke may take the normal equations of another. */
function isLike(
  { samples, guess: known }: HeldSystem,
  count: number,
  guess: FeedbackGuess,
): boolean {
  const turns = (guess.offset - known.offset) / (2 * Math.PI);
  return guess.feedbackParameter === known.feedbackParameter &&
    guess.growth === known.growth && guess.keep === known.keep &&
    guess.phase.length === known.phase.length &&
    Math.abs(count - samples) <= alike.samples * samples &&
    Math.abs(guess.amplitude - known.amplitude) <
      alike.amplitude * known.amplitude &&
    2 * Math.PI * Math.abs(turns - Math.round(turns)) < alike.offset;
}

/** Changes the phase; `false` where the step would leave the basin. */
function move(phase: Float64Array, step: Float64Array): boolean {
  for (let k = 0; k < step.length; k++) {
    if (!(Math.abs(step[k]!) < 0.7)) return false;
    phase[k]! += step[k]!;
  }
  // Whole turns say nothing.
  phase[0]! -= 2 * Math.PI * Math.round(phase[0]! / (2 * Math.PI));
  return true;
}

/** Arrays that are made once and written over for each stroke. */
function createRoom(): (samples: number, arrays: number) => Float64Array[] {
  let made: Float64Array[] = [];
  return (samples, arrays) => {
    if (made.length < arrays || made[0]!.length < samples) {
      made = Array.from({ length: arrays }, () => new Float64Array(samples));
    }
    return made.map((array) => array.subarray(0, samples));
  };
}

/** A column as the amplifier shows it, with the rate of its pole or without one. */
function seen(column: Float64Array, rate: number | null): Float64Array {
  return rate === null ? column : behindPole(column, rate, 1);
}

/** The equation along a stroke. */
function formModel(
  signal: StrokeSignal,
  { feedbackParameter: c, growth, keep, phase }: FeedbackGuess,
  room: ReturnType<typeof createRoom>,
) {
  const { x, y } = signal;
  const n = x.length;
  const order = phase.length;
  const most = Math.max(2, order);
  const [t, cosine, sine, shown, byPhase, ...columns] = room(n, 6 + most) as [
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
    ...Float64Array[],
  ];
  const polynomials = legendreColumns(x, most, columns);
  const power = powerOf(signal);
  const ramp = power === x ? polynomials : legendreColumns(power, 2);
  const rate = keep === undefined ? null : -Math.log(keep);
  const follow = ({ phase }: Form) => {
    t.fill(phase[0]!);
    for (let k = 1; k <= order; k++) addTimes(t, -phase[k]!, polynomials[k]!);
    turnTo(t, c, cosine, sine);
  };
  const setRamp = (out: Float64Array, { linear }: Form) => {
    const [level, slope, bend] = linear as unknown as [number, number, number];
    const [line, parabola] = [ramp[1]!, ramp[2]!];
    for (let i = 0; i < n; i++) {
      out[i] = level + slope * line[i]! + bend * parabola[i]!;
    }
  };
  return {
    background(form: Form): Float64Array {
      const out = new Float64Array(n);
      setRamp(out, form);
      return seen(out, rate);
    },
    /** What the signal has beside the form. */
    residuals(form: Form): Float64Array {
      follow(form);
      setRamp(shown, form);
      const [a, b] = [form.linear[3]!, form.linear[4]!];
      for (let i = 0; i < n; i++) {
        shown[i]! += (1 + growth * power[i]!) *
          (a * cosine[i]! + b * sine[i]!);
      }
      return difference(y, seen(shown, rate));
    },
    /** Derivatives by all parameters. */
    columns(form: Form): Float64Array[] {
      follow(form);
      const [a, b] = [form.linear[3]!, form.linear[4]!];
      const course = { cosine, sine };
      return [
        ...linearColumns(power, ramp, course, growth),
        // All but that by C, which is held.
        ...nonlinearColumns(
          power,
          polynomials,
          course,
          growth,
          a,
          b,
          c,
          order,
        ).slice(0, -1),
      ].map((column) => seen(column, rate));
    },
    /** Products of the derivatives with the residuals that were asked for last. */
    products({ linear }: Form, residuals: Float64Array): Float64Array {
      const [a, b] = [linear[3]!, linear[4]!];
      const left = rate === null ? residuals : beforePole(residuals, rate);
      let [even, odd] = [0, 0];
      for (let i = 0; i < n; i++) {
        const cos = cosine[i]!;
        const sin = sine[i]!;
        const value = left[i]! * (1 + growth * power[i]!);
        even += value * cos;
        odd += value * sin;
        byPhase[i] = value * (b * cos - a * sin) / (1 + c * cos);
      }
      const out = new Float64Array(6 + order);
      out.set(dots(left, ramp.slice(0, 3)));
      out[3] = even;
      out[4] = odd;
      out.set(dots(byPhase, polynomials.slice(0, order + 1)), 5);
      for (let k = 6; k < out.length; k++) out[k] = -out[k]!;
      return out;
    },
  };
}
