import { type FringeModel, tabulated } from "./fringe_model.ts";
import type { Displacement } from "./measure_displacement.ts";

const turn = 2 * Math.PI;
/** Entries of the table: what lies between two is linear to 1e-5 of a fringe. */
const entries = 8192;
/** So close to its place a jump may have been or not, in rad of φ0. */
const besideJump = 0.15;
/**
 * Least dφ0/dφF of a sample that counts (1): beyond it the slope runs away, and the
 * amplifier follows no better than after a jump.
 */
const leastDerivative = 0.35;
/**
 * What is taken of the amplifier is a series in its time constant times the fringes'
 * speed, and each order brings (dφ0/dφF)⁻²: from 1 over so much on it does not hold.
 */
const ordersApart = 4;
/** Time constants of the amplifier after a jump until nothing is left of it. */
const settledAfter = 7;
/** Feedback times height from which on fringes fold (1). */
const mostWithHeight = 0.98;
/** Steps of Newton's method where the height of the fringes changes. */
const newtonSteps = 4;

/**
 * The signal at a motion that a model has, exactly: cos φF with
 * φ0 = φF + h (p sin φF + q cos φF), its slope, and the sample itself. Nothing of
 * it depends on the displacement that was read from the same samples, whose noise
 * would come back in the values of the model.
 */
export class ModelSlopes {
  /** Whether a signal can be made of a motion for this record. */
  readonly isUsable: boolean;
  /** Weight of the sample (1); 0 where it does not count. */
  weight = 0;
  /** The sample over the amplitude (1). */
  value = 0;
  /** h cos φF and h sin φF in the sense of the displacement (1). */
  cosine = 0;
  sine = 0;
  /** Derivative of h cos φF by φ0, in the sense of the displacement, in 1/rad. */
  slope = 0;
  /** Second derivative of h cos φF by φ0, in 1/rad². */
  bend = 0;
  readonly #displacement: Displacement;
  readonly #height: Float32Array | null;
  readonly #taken: Float32Array | null;
  #model: FringeModel;
  /** Branches on which φF may be: the lowest and the highest. */
  #lowest = NaN;
  #highest = NaN;
  /** Samples since φF has landed, and how many do not count. */
  #since = 0;
  #settling = 0;
  #least = leastDerivative;

  /** @param displacement The displacement, for its signal and form of fringes. */
  constructor(displacement: Displacement) {
    const { stretches, diagnostics } = displacement;
    const { signal, trace, fringeForm: { p, q } } = diagnostics;
    this.#displacement = displacement;
    const height = trace?.height ?? null;
    this.#height = height?.some((h) => h !== 1) ? height : null;
    this.#taken = trace?.weight ?? null;
    const highest = this.#height?.reduce((a, b) => Math.max(a, b), 0) ?? 0;
    this.isUsable = signal.length > 0 && stretches.length === 1 &&
      highest * Math.hypot(p, q) < mostWithHeight;
    this.#model = this.#tabulated(0, 0);
  }

  /**
   * Begins a pass over the samples in order of time.
   *
   * @param p Change of C cos ψ (1).
   * @param q Change of C sin ψ in the sense of the displacement (1).
   * @param timeConstant Of the amplifier, in samples.
   * @param fastest Fastest motion, in rad per sample.
   */
  begin(p: number, q: number, timeConstant: number, fastest: number): void {
    this.#model = this.#tabulated(p, q);
    this.#lowest = NaN;
    this.#settling = settledAfter * timeConstant;
    // What was left out once stays out: else samples come and go with each pass.
    this.#least = Math.max(
      this.#least,
      Math.sqrt(ordersApart * timeConstant * fastest),
    );
    this.#since = Infinity;
  }

  /** Reads sample i where the model has the motion, in rad of φ0. */
  read(i: number, motion: number): void {
    const { signal, middle, amplitude, fringeForm } =
      this.#displacement.diagnostics;
    const { origin, sense } = fringeForm;
    const model = this.#model;
    const value = signal[i]!;
    const t = sense * motion + origin + model.shift;
    const { reach } = model;
    const folds = model.feedback > 1;
    if (folds) this.#follow(t, reach);
    const branch = folds ? this.#lowest : Math.round(t / turn);
    this.weight = 0;
    if (folds && branch !== this.#highest) return;
    const isMissing = value !== value || this.#taken?.[i] === 0;
    this.value = (value - middle) / amplitude;
    const last = model.entryOf.length - 1;
    const inBranch = t - turn * branch;
    const place = (inBranch + reach) * model.perRadian;
    const j = model.entryOf[place < 0 ? 0 : place > last ? last : place | 0]!;
    const height = this.#height?.[i] ?? 1;
    if (height !== 1) {
      if (isMissing) return;
      this.#solve(inBranch - model.shift, height, j);
      this.weight *= model.weight[j]!;
      return;
    }
    const c = model.signal[j]!, s = model.sine[j]!, g = model.slope[j]!;
    const isSteep = Math.abs(s) < this.#least * Math.abs(g);
    this.#since = isSteep ? 0 : this.#since + 1;
    if (isMissing || this.#since <= this.#settling) return;
    const miss = inBranch - model.shift - model.phase[j]!;
    const derivative = 1 + model.p * c - model.q * s;
    const bend = -(c + model.p) / derivative ** 3;
    this.cosine = c + (g + bend * miss / 2) * miss;
    this.sine = sense * (s + c / derivative * miss);
    this.slope = sense * (g + bend * miss);
    this.bend = bend;
    this.weight = model.weight[j]!;
  }

  /** φF where the height is another: from the table's by Newton's method. */
  #solve(phase: number, height: number, entry: number): void {
    const { p, q, signal, sine } = this.#model;
    const { sense } = this.#displacement.diagnostics.fringeForm;
    let theta = Math.atan2(sine[entry]!, signal[entry]!);
    theta += turn * Math.round((phase - theta) / turn);
    let c = 0, s = 0, derivative = 1;
    for (let step = 0; step < newtonSteps; step++) {
      c = Math.cos(theta);
      s = Math.sin(theta);
      derivative = 1 + height * (p * c - q * s);
      if (derivative < this.#least) return;
      theta -= (theta + height * (p * s + q * c) - phase) / derivative;
    }
    c = Math.cos(theta);
    s = Math.sin(theta);
    derivative = 1 + height * (p * c - q * s);
    if (derivative < this.#least) return;
    this.cosine = height * c;
    this.sine = sense * height * s;
    this.slope = -sense * height * s / derivative;
    this.bend = -height * (c + height * p) / derivative ** 3;
    this.weight = 1;
  }

  #tabulated(p: number, q: number): FringeModel {
    const { fringeForm, relativeNoise } = this.#displacement.diagnostics;
    return tabulated(
      fringeForm.p + p,
      fringeForm.q + fringeForm.sense * q,
      Math.max(relativeNoise, 1e-4),
      entries,
    );
  }

  /** Follows the branches: φF jumps at the end of its own, or just beside it. */
  #follow(t: number, reach: number): void {
    if (this.#lowest !== this.#lowest) {
      this.#lowest = Math.ceil((t - reach) / turn);
      this.#highest = Math.floor((t + reach) / turn);
    }
    const before = this.#lowest;
    const [sooner, later] = [reach - besideJump, reach + besideJump];
    while (t - turn * this.#highest > sooner) this.#highest++;
    while (t - turn * this.#lowest < -sooner) this.#lowest--;
    while (t - turn * this.#lowest > later) this.#lowest++;
    while (t - turn * this.#highest < -later) this.#highest--;
    if (before !== this.#lowest || before !== this.#highest) this.#since = 0;
  }
}
