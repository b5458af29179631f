import {
  legendreColumns,
  normalSystem,
  solveSystem,
} from "./normal_equations.ts";
import { powerOf, type StrokeSignal, thin } from "./stroke_signal.ts";

/** Steps of one stroke from one estimator. */
export interface StepEstimate {
  /** Steps per whole ramp (1). */
  readonly steps: number;
  /** Standard uncertainty from the noise of this stroke (1). */
  readonly standardUncertainty: number;
}

/** A periodic waveform fitted along a stroke. */
export interface FringeFit extends StepEstimate {
  /** Phase against current: coefficients of Legendre polynomials, in rad. */
  readonly phase: readonly number[];
  /** Cosine and sine amplitude of each harmonic, in the unit of the signal. */
  readonly harmonics: readonly (readonly [number, number])[];
  /** Relative growth of the amplitude over half the ramp (1). */
  readonly growth: number;
  /** Fitted signal, in its unit. */
  readonly fitted: Float64Array;
  /** The fitted power ramp, in the unit of the signal. */
  readonly background: Float64Array;
  /** Standard deviation of the residuals, in the unit of the signal. */
  readonly noise: number;
  /** Whether the iteration settled. */
  readonly converged: boolean;
}

/**
 * Fits a periodic waveform of free shape, on a power ramp, with its phase a
 * polynomial of the current: y = Σ bₖPₖ(x) + Σ aₖ cos kψ + bₖ sin kψ with
 * ψ = c₁P₁(x) + c₂P₂(x) + c₃P₃(x). Gauss–Newton on the phase, linear in the
 * rest. The steps per ramp are c₁/π, the best straight line through ψ.
 *
 * @param signal The stroke.
 * @param start First guess: steps (1), or the coefficients of the phase (rad).
 * @param along What the phase is a polynomial of, where it is not the current.
 * @param mostOrder Highest order of that polynomial for a guess in steps.
 * @returns The fit; `null` if it cannot be made.
 */
export function fitFringes(
  signal: StrokeSignal,
  start: number | readonly number[],
  along: Float64Array = signal.x,
  mostOrder = 3,
): FringeFit | null {
  const { x, y } = signal;
  const n = x.length;
  const steps = typeof start === "number" ? start : start[0]! / Math.PI;
  let near = false;
  if (along === x && n > 800) {
    // Far more samples than a fringe needs: settle on their means first.
    const most = Math.max(400, Math.ceil(24 * steps));
    if (n >= 1.5 * most) {
      const means = thin(signal, most);
      const first = fitFringes(means, start, means.x, mostOrder);
      if (first === null) return null;
      start = first.phase;
      near = first.converged;
    }
  }
  const order = typeof start === "number"
    ? Math.min(mostOrder, steps < 1.5 ? 1 : steps < 4 ? 2 : 3)
    : start.length;
  const most = steps < 1.5 ? 1 : steps < 2.5 ? 2 : steps < 4 ? 3 : 8;
  const harmonics = Math.max(1, Math.min(most, Math.floor(n / (3 * steps))));
  const polynomials = legendreColumns(along, order);
  const background = legendreColumns(powerOf(signal), 2);
  const phase = typeof start === "number"
    ? [Math.PI * steps, 0, 0].slice(0, order)
    : [...start];
  const psi = new Float64Array(n);
  let converged = false;
  let round = 0;
  let result: FringeFit | null = null;
  while (round < 30) {
    round++;
    psi.fill(0);
    phase.forEach((c, k) => {
      const column = polynomials[k + 1]!;
      for (let i = 0; i < n; i++) psi[i]! += c * column[i]!;
    });
    const columns = [...background];
    columns.push(...harmonicColumns(psi, harmonics));
    const envelope = steps >= 2;
    const first = background.length;
    if (envelope) {
      columns.push(
        product(columns[first]!, x),
        product(columns[first + 1]!, x),
      );
    }
    const linear = columns.length;
    const own = normalSystem(columns, y);
    const shape = solveSystem(own, columns, y);
    if (shape === null) return result;
    // Derivative of the waveform by its phase.
    const slope = new Float64Array(n);
    for (let k = 1; k <= harmonics; k++) {
      const a = shape.coefficients[first + 2 * k - 2]!;
      const b = shape.coefficients[first + 2 * k - 1]!;
      const [c, s] = [columns[first + 2 * k - 2]!, columns[first + 2 * k - 1]!];
      for (let i = 0; i < n; i++) slope[i]! += k * (b * c[i]! - a * s[i]!);
    }
    const all = [
      ...columns,
      ...phase.map((_, k) => product(slope, polynomials[k + 1]!)),
    ];
    const full = solveSystem(normalSystem(all, y, null, own), all, y);
    if (full === null) return result;
    const variance = full.residualSum / Math.max(1, n - linear - order);
    const change = phase.map((_, k) => full.coefficients[linear + k]!);
    const uncertainty = Math.sqrt(variance * full.variance(linear)) /
      Math.PI;
    const ramp = new Float64Array(n);
    background.forEach((column, k) => {
      for (let i = 0; i < n; i++) {
        ramp[i]! += shape.coefficients[k]! * column[i]!;
      }
    });
    result = {
      steps: phase[0]! / Math.PI,
      standardUncertainty: uncertainty,
      phase: [...phase],
      harmonics: Array.from({ length: harmonics }, (_, k) =>
        [
          shape.coefficients[first + 2 * k]!,
          shape.coefficients[first + 2 * k + 1]!,
        ] as const),
      growth: envelope
        ? growthOf(shape.coefficients, first, first + 2 * harmonics)
        : 0,
      fitted: difference(y, shape.residuals),
      background: ramp,
      noise: Math.sqrt(shape.residualSum / Math.max(1, n - linear - order)),
      converged,
    };
    if (converged) return result;
    // A step of more than a radian at the ends would leave the basin.
    const largest = Math.max(...change.map(Math.abs));
    const damp = Math.min(1, 0.7 / largest);
    phase.forEach((_, k) => phase[k]! += damp * change[k]!);
    if (!(phase[0]! > 0)) return result;
    const settled = near ? 0.1 : 0.003;
    converged = Math.abs(change[0]!) < settled * Math.PI * uncertainty;
  }
  return result;
}

function product(a: Float64Array, b: Float64Array): Float64Array {
  const out = new Float64Array(a.length);
  for (let i = 0; i < out.length; i++) out[i] = a[i]! * b[i]!;
  return out;
}

function difference(a: Float64Array, b: Float64Array): Float64Array {
  const out = new Float64Array(a.length);
  for (let i = 0; i < out.length; i++) out[i] = a[i]! - b[i]!;
  return out;
}

/** cos kψ and sin kψ for k = 1 … `most`, each from the two before. */
function harmonicColumns(psi: Float64Array, most: number): Float64Array[] {
  const n = psi.length;
  const columns = [new Float64Array(n), new Float64Array(n)];
  for (let i = 0; i < n; i++) {
    columns[0]![i] = Math.cos(psi[i]!);
    columns[1]![i] = Math.sin(psi[i]!);
  }
  for (let k = 2; k <= most; k++) {
    const cos = new Float64Array(n);
    const sin = new Float64Array(n);
    const [c1, s1] = [columns[0]!, columns[1]!];
    const [c, s] = [columns[2 * k - 4]!, columns[2 * k - 3]!];
    for (let i = 0; i < n; i++) {
      cos[i] = c[i]! * c1[i]! - s[i]! * s1[i]!;
      sin[i] = s[i]! * c1[i]! + c[i]! * s1[i]!;
    }
    columns.push(cos, sin);
  }
  return columns;
}

/** Growth of the first harmonic from its constant and its rising part. */
function growthOf(c: Float64Array, still: number, rising: number): number {
  const size = c[still]! ** 2 + c[still + 1]! ** 2;
  return size > 0
    ? (c[still]! * c[rising]! + c[still + 1]! * c[rising + 1]!) / size
    : 0;
}
