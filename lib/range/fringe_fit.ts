import {
  addTimes,
  difference,
  dot,
  legendreColumns,
  type NormalSolution,
  normalSystem,
  product,
  solveNormal,
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
  const waves = Array.from(
    { length: 2 * harmonics },
    () => new Float64Array(n),
  );
  const envelope = steps >= 2 ? [new Float64Array(n), new Float64Array(n)] : [];
  const columns = [...background, ...waves, ...envelope];
  const byPhase = phase.map(() => new Float64Array(n));
  const all = [...columns, ...byPhase];
  const [first, linear] = [background.length, columns.length];
  const degrees = Math.max(1, n - linear - order);
  const psi = new Float64Array(n);
  const slope = new Float64Array(n);
  let latest: Round | null = null;
  let converged = false;
  for (let round = 0; round < 30; round++) {
    psi.fill(0);
    phase.forEach((c, k) => addTimes(psi, c, polynomials[k + 1]!));
    fillHarmonics(waves, psi);
    envelope.forEach((column, k) => product(waves[k]!, x, column));
    const own = normalSystem(columns, y);
    const shape = solveSystem(own, columns, y);
    if (shape === null) break;
    // Derivative of the waveform by its phase.
    slope.fill(0);
    for (let k = 0; k < waves.length; k += 2) {
      const number = 1 + k / 2;
      addTimes(slope, number * shape.coefficients[first + k + 1]!, waves[k]!);
      addTimes(slope, -number * shape.coefficients[first + k]!, waves[k + 1]!);
    }
    byPhase.forEach((out, k) => product(slope, polynomials[k + 1]!, out));
    const full = solveNormal(normalSystem(all, y, null, own));
    if (full === null) break;
    const change = phase.map((_, k) => full.coefficients[linear + k]!);
    // What the shape leaves, less what the change of the phase takes away.
    const left = byPhase.reduce(
      (sum, column, k) => sum - change[k]! * dot(column, shape.residuals),
      shape.residualSum,
    );
    const uncertainty = Math.sqrt(
      Math.max(0, left) / degrees * full.variance(linear),
    ) / Math.PI;
    latest = { phase: [...phase], shape, uncertainty, converged };
    if (converged) break;
    // A step of more than a radian at the ends would leave the basin.
    const largest = Math.max(...change.map(Math.abs));
    const damp = Math.min(1, 0.7 / largest);
    phase.forEach((_, k) => phase[k]! += damp * change[k]!);
    if (!(phase[0]! > 0)) break;
    // The next change is smaller by about as much as this one is in radians.
    const next = Math.abs(change[0]!) * Math.min(1, largest);
    converged = next < (near ? 0.1 : 0.003) * Math.PI * uncertainty;
  }
  if (latest === null) return null;
  const { shape, uncertainty } = latest;
  const ramp = new Float64Array(n);
  background.forEach((column, k) =>
    addTimes(ramp, shape.coefficients[k]!, column)
  );
  return {
    steps: latest.phase[0]! / Math.PI,
    standardUncertainty: uncertainty,
    phase: latest.phase,
    harmonics: Array.from({ length: harmonics }, (_, k) =>
      [
        shape.coefficients[first + 2 * k]!,
        shape.coefficients[first + 2 * k + 1]!,
      ] as const),
    growth: envelope.length > 0
      ? growthOf(shape.coefficients, first, first + 2 * harmonics)
      : 0,
    fitted: difference(y, shape.residuals),
    background: ramp,
    noise: Math.sqrt(shape.residualSum / degrees),
    converged: latest.converged,
  };
}

/** Where a round of the fit stood. */
interface Round {
  readonly phase: readonly number[];
  readonly shape: NormalSolution;
  readonly uncertainty: number;
  readonly converged: boolean;
}

/** cos kψ and sin kψ for k = 1, 2, …, each from the two before. */
function fillHarmonics(waves: readonly Float64Array[], psi: Float64Array) {
  const [c1, s1] = [waves[0]!, waves[1]!];
  for (let i = 0; i < psi.length; i++) {
    c1[i] = Math.cos(psi[i]!);
    s1[i] = Math.sin(psi[i]!);
  }
  for (let k = 2; k < waves.length; k += 2) {
    turn(waves[k]!, waves[k + 1]!, waves[k - 2]!, waves[k - 1]!, c1, s1);
  }
}

/** (c + is)(c1 + i s1) */
function turn(
  cos: Float64Array,
  sin: Float64Array,
  c: Float64Array,
  s: Float64Array,
  c1: Float64Array,
  s1: Float64Array,
) {
  for (let i = 0; i < cos.length; i++) {
    cos[i] = c[i]! * c1[i]! - s[i]! * s1[i]!;
    sin[i] = s[i]! * c1[i]! + c[i]! * s1[i]!;
  }
}

/** Growth of the first harmonic from its constant and its rising part. */
function growthOf(c: Float64Array, still: number, rising: number): number {
  const size = c[still]! ** 2 + c[still + 1]! ** 2;
  return size > 0
    ? (c[still]! * c[rising]! + c[still + 1]! * c[rising + 1]!) / size
    : 0;
}
