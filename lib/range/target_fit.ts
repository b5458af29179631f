import { checkpoint } from "../progress/mod.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";

/** One stroke of a ramp, thinned. */
export interface TargetStroke {
  /** Current from the middle of the ramp over its span, -1/2 … 1/2 (1). */
  readonly place: Float64Array;
  /** Monitor signal. */
  readonly signal: Float64Array;
  /** Whether the current rises. */
  readonly rises: boolean;
}

/** What describes the fringes of one or two targets. */
export interface TargetModel {
  /** Steps over the whole ramp, of each target (1). */
  readonly steps: readonly number[];
  /** Bend of the phase against the current on rising and falling strokes (1). */
  readonly bend: readonly [number, number];
  /**
   * By how much the fringes are higher at the upper end of the ramp than at the
   * lower, over their height in the middle: as the light is (1).
   */
  readonly growth: number;
}

/** A fit of {@linkcode TargetModel}. */
export interface TargetFit extends TargetModel {
  /** Sum of squared residuals over all strokes. */
  readonly residualSum: number;
  /** What is left of each stroke. */
  readonly residuals: readonly Float64Array[];
  /** Amplitude of each target's fundamental, mean over strokes. */
  readonly amplitudes: readonly number[];
  /** Amplitude of each target's second harmonic over its fundamental (1). */
  readonly harmonics: readonly number[];
}

const work = "find targets";
/** Order of the power's course along a stroke. */
const powerOrder = 3;

/**
 * Columns of one stroke: the course of the power, each target's fringe with its
 * second and third harmonic, and the sums and differences of two targets, which
 * feedback mixes.
 */
function columnsOf(
  { place, rises }: TargetStroke,
  { steps, bend, growth }: TargetModel,
): Float64Array[] {
  const bent = bend[rises ? 0 : 1];
  const warped = place.map((x) => x + bent * x * x);
  const columns = legendreColumns(place.map((x) => 2 * x), powerOrder);
  const add = (rate: number) => {
    const cosine = new Float64Array(place.length);
    const sine = new Float64Array(place.length);
    for (let i = 0; i < place.length; i++) {
      const phase = 2 * Math.PI * rate * warped[i]!;
      const height = 1 + growth * place[i]!;
      cosine[i] = height * Math.cos(phase);
      sine[i] = height * Math.sin(phase);
    }
    columns.push(cosine, sine);
  };
  for (const rate of steps) add(rate);
  for (const rate of steps) add(2 * rate);
  const [first = 0, second = 0] = steps;
  if (steps.length === 2) {
    for (const rate of [first + second, Math.abs(first - second)]) {
      // Columns that another holds already make the sums singular.
      const taken = [first, second, 2 * first, 2 * second];
      if (rate > 1 && taken.every((each) => Math.abs(each - rate) > 0.7)) {
        add(rate);
      }
    }
  } else if (steps.length === 1) add(3 * first);
  return columns;
}

/** What is left of a stroke under a model; `null` where the columns are alike. */
function solved(stroke: TargetStroke, model: TargetModel) {
  return solveColumns(columnsOf(stroke, model), stroke.signal);
}

function sumOf(strokes: readonly TargetStroke[], model: TargetModel): number {
  let sum = 0;
  for (const stroke of strokes) {
    checkpoint(NaN, work);
    const solution = solved(stroke, model);
    if (solution === null) return Infinity;
    sum += solution.residualSum;
  }
  return sum;
}

/** Model as a list of numbers, and back. */
const listOf = ({ steps, bend, growth }: TargetModel) => [
  ...steps,
  ...bend,
  growth,
];
const modelOf = (values: readonly number[]): TargetModel => ({
  steps: values.slice(0, -3),
  bend: [values.at(-3)!, values.at(-2)!],
  growth: values.at(-1)!,
});

/**
 * Fits steps and bends by Gauss-Newton steps over what the linear columns leave
 * (variable projection: Golub, Pereyra 1973).
 */
export function fitTargets(
  strokes: readonly TargetStroke[],
  start: TargetModel,
  stepsAlone = false,
): TargetFit {
  let values = listOf(start);
  const free = stepsAlone ? values.length - 3 : values.length;
  let sum = sumOf(strokes, modelOf(values));
  let damping = 1e-3;
  for (let round = 0; round < 30; round++) {
    const base = residualsOf(strokes, modelOf(values));
    const slopes = Array.from({ length: free }, (_, j) => {
      const delta = 1e-4;
      const moved = values.map((value, k) => k === j ? value + delta : value);
      const left = residualsOf(strokes, modelOf(moved));
      return left.map((value, i) => (value - base[i]!) / delta);
    });
    let improved = false;
    for (let attempt = 0; attempt < 6 && !improved; attempt++) {
      const step = dampedStep(slopes, base, damping);
      const next = values.map((value, k) => value + (step[k] ?? 0));
      const own = modelOf(next);
      const sound = own.steps.every((each) => each > 0.5) &&
        own.bend.every((each) => Math.abs(each) < 0.2) &&
        Math.abs(own.growth) < 1.9;
      const nextSum = sound ? sumOf(strokes, own) : Infinity;
      if (nextSum < sum) {
        const gain = 1 - nextSum / sum;
        [values, sum] = [next, nextSum];
        damping = Math.max(1e-9, damping / 10);
        improved = true;
        if (gain < 1e-6) round = 30;
      } else damping *= 10;
    }
    if (!improved) break;
  }
  return describe(strokes, modelOf(values), sum);
}

function residualsOf(
  strokes: readonly TargetStroke[],
  model: TargetModel,
): Float64Array {
  const length = strokes.reduce((sum, { place }) => sum + place.length, 0);
  const out = new Float64Array(length);
  let at = 0;
  for (const stroke of strokes) {
    checkpoint(NaN, work);
    const solution = solved(stroke, model);
    out.set(solution?.residuals ?? stroke.signal, at);
    at += stroke.place.length;
  }
  return out;
}

/** Solves (JᵀJ + μ diag) s = -Jᵀr for few unknowns. */
function dampedStep(
  slopes: readonly Float64Array[],
  residuals: Float64Array,
  damping: number,
): number[] {
  const n = slopes.length;
  const dotOf = (a: Float64Array, b: Float64Array) => {
    let sum = 0;
    for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
    return sum;
  };
  const matrix = slopes.map((a, j) => [
    ...slopes.map((b, k) => dotOf(a, b) * (j === k ? 1 + damping : 1)),
    -dotOf(a, residuals),
  ]);
  for (let j = 0; j < n; j++) {
    const pivot = matrix[j]![j]! || 1e-300;
    for (let k = j + 1; k < n; k++) {
      const factor = matrix[k]![j]! / pivot;
      for (let m = j; m <= n; m++) matrix[k]![m]! -= factor * matrix[j]![m]!;
    }
  }
  const step = new Array<number>(n).fill(0);
  for (let j = n - 1; j >= 0; j--) {
    let sum = matrix[j]![n]!;
    for (let k = j + 1; k < n; k++) sum -= matrix[j]![k]! * step[k]!;
    step[j] = sum / (matrix[j]![j]! || 1e-300);
  }
  return step;
}

function describe(
  strokes: readonly TargetStroke[],
  model: TargetModel,
  residualSum: number,
): TargetFit {
  const count = model.steps.length;
  const amplitudes = new Array<number>(count).fill(0);
  const seconds = new Array<number>(count).fill(0);
  const residuals: Float64Array[] = [];
  for (const stroke of strokes) {
    const solution = solved(stroke, model);
    residuals.push(solution?.residuals ?? stroke.signal);
    const coefficients = solution?.coefficients ?? new Float64Array(99);
    const at = (place: number) =>
      Math.hypot(
        coefficients[powerOrder + 1 + 2 * place]!,
        coefficients[powerOrder + 2 + 2 * place]!,
      );
    for (let k = 0; k < count; k++) {
      amplitudes[k]! += at(k) / strokes.length;
      seconds[k]! += at(count + k) / strokes.length;
    }
  }
  return {
    ...model,
    residualSum,
    residuals,
    amplitudes,
    harmonics: seconds.map((second, k) => second / amplitudes[k]!),
  };
}
