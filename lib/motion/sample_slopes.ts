import { type FringeModel, fringeModel } from "./fringe_model.ts";
import type { Displacement } from "./measure_displacement.ts";

const turn = 2 * Math.PI;
/** Samples so close to a jump may lie on its other side, in rad of φ0. */
const besideJump = 0.15;
/** Closer to a fold than this the slope runs away: one step is not enough. */
const steepest = 0.2;

/**
 * What samples say of φ0 about the place where a displacement has it: signal over
 * the amplitude = cos φF(φ0) + residual, with slope and bend of cos φF. In the
 * sense of the displacement: receding is positive.
 */
export class SampleSlopes {
  /** Standard deviation of the residuals (1). */
  readonly noise: number;
  /** Whether the residuals are those of the signal, with its noise. */
  readonly isSignal: boolean;
  /** Whether the levels may have drifted away from those of the fringes' form. */
  readonly levelsDrift: boolean;
  /** Samples read last. */
  length = 0;
  /** φ0 of the displacement, in rad. */
  readonly phase: Float64Array;
  /** Signal minus fit over the amplitude (1). */
  readonly residual: Float64Array;
  /** d cos φF/dφ0 (1/rad). */
  readonly slope: Float64Array;
  /** d² cos φF/dφ0² (1/rad²). */
  readonly bend: Float64Array;
  /** dφF/dφ0 (1). */
  readonly rate: Float64Array;
  /** Weight (1); 0 where a sample does not count. */
  readonly weight: Float64Array;
  /** sin φF (1). */
  readonly sine: Float64Array;
  /** cos φF (1). */
  readonly cosine: Float64Array;
  readonly #displacement: Displacement;
  readonly #model: FringeModel | null;
  #branch = NaN;
  /** Way of the last jump. */
  #landed = 0;

  /**
   * @param displacement The displacement.
   * @param most Most samples read at once.
   */
  constructor(displacement: Displacement, most: number) {
    const { trace, signal, relativeNoise, fringeForm } =
      displacement.diagnostics;
    const make = () => new Float64Array(most);
    this.phase = make();
    this.residual = make();
    this.slope = make();
    this.bend = make();
    this.rate = make();
    this.weight = make();
    this.sine = make();
    this.cosine = make();
    this.#displacement = displacement;
    this.isSignal = trace !== null || signal.length > 0;
    this.levelsDrift = trace === null && signal.length > 0;
    this.noise = this.isSignal ? Math.max(relativeNoise, 1e-7) : 1;
    this.#model = this.levelsDrift
      ? fringeModel(fringeForm.p, fringeForm.q, relativeNoise)
      : null;
  }

  /** Reads samples `first` to `end` - 1; in order of time where fringes jump. */
  read(first: number, end: number): void {
    this.length = end - first;
    if (this.#model !== null) this.#readSignal(this.#model, first);
    else if (this.isSignal) this.#readTrace(first);
    else this.#readPlain(first);
  }

  #readTrace(first: number): void {
    const { displacement, diagnostics } = this.#displacement;
    const { metresPerRadian, fringeForm: { p, q, sense } } = diagnostics;
    const trace = diagnostics.trace!;
    for (let k = 0; k < this.length; k++) {
      const i = first + k;
      const theta = trace.feedbackPhase[i]!;
      const g = trace.slope[i]!;
      const s = Math.sin(theta);
      const c = Math.cos(theta);
      const derivative = 1 + p * c - q * sense * s;
      const phase = displacement[i]! / metresPerRadian;
      this.phase[k] = phase;
      this.slope[k] = g;
      this.sine[k] = s;
      this.cosine[k] = c;
      this.bend[k] = -(c + p) / derivative ** 3;
      this.rate[k] = 1 / derivative;
      const counts = phase === phase && Math.abs(s) >= steepest * Math.abs(g);
      this.weight[k] = counts ? trace.weight[i]! : 0;
      this.residual[k] = this.weight[k]! > 0 ? trace.residual[i]! : 0;
    }
  }

  /** Of a long record only the displacement is kept: the rest is made anew. */
  #readSignal(model: FringeModel, first: number): void {
    const { displacement, diagnostics } = this.#displacement;
    const { metresPerRadian, signal, middle, amplitude, fringeForm } =
      diagnostics;
    const { p, q, origin, sense } = fringeForm;
    const { reach, shift, perRadian, entryOf } = model;
    const last = entryOf.length - 1;
    const folded = model.feedback > 1;
    for (let k = 0; k < this.length; k++) {
      const i = first + k;
      const phase = displacement[i]! / metresPerRadian;
      this.phase[k] = phase;
      this.residual[k] = 0;
      this.weight[k] = 0;
      const value = signal[i]!;
      if (phase !== phase || value !== value) continue;
      const t = sense * phase + origin + shift;
      let branch = Math.round(t / turn);
      let isBeside = false;
      if (folded) {
        branch = this.#walk(t, reach);
        isBeside = this.#isBesideJump(t - turn * branch, reach);
      }
      const place = (t - turn * branch + reach) * perRadian;
      const j = entryOf[place < 0 ? 0 : place > last ? last : place | 0]!;
      const c = model.signal[j]!;
      const s = model.sine[j]!;
      const g = model.slope[j]!;
      // From the place in the table to that of the sample.
      const miss = t - shift - turn * branch - model.phase[j]!;
      const derivative = 1 + p * c - q * s;
      this.slope[k] = sense * g;
      this.bend[k] = -(c + p) / derivative ** 3;
      this.rate[k] = 1 / derivative;
      this.sine[k] = sense * s;
      this.cosine[k] = c;
      if (isBeside || Math.abs(s) < steepest * Math.abs(g)) continue;
      this.residual[k] = (value - middle) / amplitude - c - g * miss;
      this.weight[k] = model.weight[j]!;
    }
  }

  /** Samples of which the uncertainty alone is known: as many as there are knots. */
  #readPlain(first: number): void {
    const { displacement, diagnostics, standardUncertainty, samplingRate } =
      this.#displacement;
    const { metresPerRadian, knotSpacing } = diagnostics;
    const share = 1 / Math.max(1, knotSpacing * samplingRate);
    for (let k = 0; k < this.length; k++) {
      const i = first + k;
      const x = displacement[i]!;
      const u = standardUncertainty[i]!;
      const counts = x === x && u > 0;
      this.phase[k] = x / metresPerRadian;
      this.slope[k] = counts ? metresPerRadian / u : 0;
      this.weight[k] = counts ? share : 0;
    }
  }

  /** The branch of the fringes at t, which jumps at the ends of branches only. */
  #walk(t: number, reach: number): number {
    if (this.#branch !== this.#branch) this.#branch = Math.round(t / turn);
    let inBranch = t - turn * this.#branch;
    while (inBranch > reach) {
      this.#branch++;
      this.#landed = 1;
      inBranch -= turn;
    }
    while (inBranch < -reach) {
      this.#branch--;
      this.#landed = -1;
      inBranch += turn;
    }
    return this.#branch;
  }

  #isBesideJump(inBranch: number, reach: number): boolean {
    const toEnd = reach - Math.abs(inBranch);
    const sinceJump = this.#landed > 0
      ? inBranch - (reach - turn)
      : this.#landed < 0
      ? turn - reach - inBranch
      : Infinity;
    if (sinceJump > 4 * besideJump) this.#landed = 0;
    return toEnd < besideJump || Math.abs(sinceJump) < besideJump;
  }
}
