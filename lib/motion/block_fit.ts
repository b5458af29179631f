import { basisTable, factorBand, solveBand } from "./cubic_spline.ts";
import type { FringeModel } from "./fringe_model.ts";
import type { FringeParameters } from "./phase_fit.ts";
import type { PhaseLabels } from "./phase_labels.ts";
import {
  addJumps,
  addRoughness,
  clearSystem,
  makeSystem,
  type PhaseSystem,
} from "./phase_system.ts";

/** A spline fitted with feedback and levels held. */
export interface BlockFit {
  /** Spline coefficients of φ0, in rad. */
  readonly coefficients: Float64Array;
  /** Cholesky factor, 4 × coefficients; the next fit overwrites it. */
  readonly factor: Float64Array;
  /** Change of the middle level that the residuals ask for, over the amplitude. */
  readonly middleChange: number;
  /** Relative change of the amplitude that the residuals ask for (1). */
  readonly amplitudeChange: number;
}

const turn = 2 * Math.PI;

/** Fits splines to blocks of one length without making new arrays. */
export class BlockFitter {
  #system: PhaseSystem;
  readonly #basis: Float64Array;
  readonly spacing: number;
  /** Coefficients of the block at hand. */
  size: number;
  /** Weighted squared residuals between neighbouring knots (1). */
  readonly squares: Float64Array;
  /** Weights between neighbouring knots (1). */
  readonly counts: Float64Array;
  #sums = { n: 0, r: 0, rc: 0, c: 0, cc: 0 };

  readonly #moments = new Float64Array(11);
  /** One sample in so many says how steep the fringes are: 1, 2 or 4. */
  readonly sparse: number;

  /**
   * @param length Most samples of a block.
   * @param spacing Samples between knots.
   * @param evenness Samples over which a fringe hardly changes its slope: the
   * shortest half fringe, or 1.
   */
  constructor(length: number, spacing: number, evenness: number) {
    this.spacing = spacing;
    const least = Math.min(evenness, spacing);
    this.sparse = least < 12 ? 1 : least < 24 ? 2 : 4;
    this.size = Math.ceil(length / spacing) + 3;
    this.#system = makeSystem(this.size);
    this.#basis = basisTable(spacing);
    this.squares = new Float64Array(this.size);
    this.counts = new Float64Array(this.size);
  }

  /** First spline from the labels, one sample in `stride`. */
  start(
    signal: Float64Array,
    parameters: FringeParameters,
    relativeNoise: number,
    labels: PhaseLabels,
    stride: number,
  ): Float64Array {
    const { p, q, middle, amplitude } = parameters;
    const { spacing } = this;
    const size = Math.ceil(signal.length / spacing) + 3;
    if (size !== this.size) {
      this.size = size;
      this.#system = makeSystem(size);
    }
    const { band, right } = this.#system;
    const basis = this.#basis;
    clearSystem(this.#system);
    const scale = stride / (relativeNoise * relativeNoise);
    const inverse = 1 / amplitude;
    const { low, high } = labels.trusted;
    for (const { first, last, origin, sign } of labels.pieces) {
      for (let i = first + (stride >> 1); i <= last; i += stride) {
        const y = (signal[i]! - middle) * inverse;
        if (!(y > low && y < high)) continue;
        const sine = sign * Math.sqrt(1 - y * y);
        const phase = origin + sign * Math.acos(y) + p * sine + q * y;
        const derivative = Math.max(0.25, 1 + p * y - q * sine);
        const g = sine / derivative;
        const w = scale * g * g;
        const k = Math.floor(i / spacing);
        const o = 4 * (i - k * spacing);
        const b0 = basis[o]!, b1 = basis[o + 1]!;
        const b2 = basis[o + 2]!, b3 = basis[o + 3]!;
        const w0 = w * b0, w1 = w * b1, w2 = w * b2, w3 = w * b3;
        const r = 4 * k + 3;
        band[r]! += w0 * b0;
        band[r + 3]! += w0 * b1;
        band[r + 4]! += w1 * b1;
        band[r + 6]! += w0 * b2;
        band[r + 7]! += w1 * b2;
        band[r + 8]! += w2 * b2;
        band[r + 9]! += w0 * b3;
        band[r + 10]! += w1 * b3;
        band[r + 11]! += w2 * b3;
        band[r + 12]! += w3 * b3;
        right[k]! += w0 * phase;
        right[k + 1]! += w1 * phase;
        right[k + 2]! += w2 * phase;
        right[k + 3]! += w3 * phase;
      }
    }
    addRoughness(this.#system, null);
    return this.#solve() ?? new Float64Array(this.size);
  }

  /**
   * One Gauss–Newton step from a known spline.
   *
   * @param step Only one sample in so many is looked at: 1, 2 or 4.
   */
  refine(
    signal: Float64Array,
    length: number,
    coefficients: Float64Array,
    parameters: FringeParameters,
    model: FringeModel,
    relativeNoise: number,
    labels: PhaseLabels,
    step = 1,
  ): Float64Array | null {
    clearSystem(this.#system);
    this.#accumulate(
      signal,
      length,
      coefficients,
      parameters,
      model,
      relativeNoise,
      labels,
      step,
    );
    if (model.feedback > 1) {
      addJumps(
        this.#system,
        this.spacing,
        this.#basis,
        coefficients,
        model,
        labels,
      );
    }
    addRoughness(this.#system, coefficients);
    return this.#solve();
  }

  /** The last step's spline with its sums. */
  finish(coefficients: Float64Array): BlockFit {
    const { n, r, rc, c, cc } = this.#sums;
    const determinant = n * cc - c * c;
    const solvable = determinant > 1e-3 * n * n;
    return {
      coefficients,
      factor: this.#system.band,
      middleChange: solvable ? (r * cc - rc * c) / determinant : 0,
      amplitudeChange: solvable ? (n * rc - c * r) / determinant : 0,
    };
  }

  /** Mean weighted squared residual over the squared amplitude (1). */
  meanSquare(from: number, to: number): number {
    const last = Math.min(this.size - 3, Math.ceil(to / this.spacing));
    let squares = 0, count = 0;
    for (let k = Math.floor(from / this.spacing); k < last; k++) {
      squares += this.squares[k]!;
      count += this.counts[k]!;
    }
    return squares / Math.max(1, count);
  }

  /** Intervals between two samples whose residuals are larger than chance allows. */
  misfits(noise: number, from: number, to: number): number {
    const variance = noise * noise;
    let found = 0;
    const first = Math.max(0, Math.floor(from / this.spacing) - 1);
    const last = Math.min(this.size - 3, Math.ceil(to / this.spacing) + 1);
    for (let k = first; k < last; k++) {
      const count = this.counts[k]!;
      if (count < 1) continue;
      const excess = (this.squares[k]! / variance - count) /
        Math.sqrt(2 * count + 4);
      if (excess > 8 && this.squares[k]! > 1.5 * variance * count) found++;
    }
    return found;
  }

  #solve(): Float64Array | null {
    const { band, right } = this.#system;
    if (!factorBand(band, this.size)) return null;
    const solution = right.slice();
    solveBand(band, this.size, solution);
    return solution;
  }

  /**
   * Between two knots b(t) of the spline is a cubic in t, so the sums that the
   * normal equations need are moments: Σ w tᵐ to the sixth, Σ w r tᵐ to the
   * third. The first change slowly along a fringe and are taken from one sample
   * in `sparse`.
   */
  #accumulate(
    signal: Float64Array,
    n: number,
    coefficients: Float64Array,
    parameters: FringeParameters,
    model: FringeModel,
    relativeNoise: number,
    labels: PhaseLabels,
    step: number,
  ): void {
    const { middle, amplitude } = parameters;
    const { shift, reach, perRadian, entryOf } = model;
    const { signal: table, phase: phases, slope: slopes, weight: weights } =
      model;
    const { spacing, size } = this;
    const sparse = Math.max(step, this.sparse);
    const mask = sparse - 1;
    const scale = 1 / (relativeNoise * relativeNoise);
    const inverse = 1 / amplitude;
    const perSample = 1 / spacing;
    const folded = model.feedback > 1;
    const jumps = folded ? labels.jumps : [];
    const lastEntry = entryOf.length - 1;
    const offset = shift + reach;
    const perTurn = 1 / turn;
    const half = shift * perTurn + 0.5;
    let nextJump = 0;
    let branch = labels.firstBranch;
    let skipFrom = jumps[0]?.first ?? n;
    let skipTo = jumps[0]?.last ?? n;
    let sn = 0, sr = 0, src = 0, sc = 0, scc = 0;
    for (let k = 0; k < size - 3; k++) {
      const c0 = coefficients[k]!, c1 = coefficients[k + 1]!;
      const c2 = coefficients[k + 2]!, c3 = coefficients[k + 3]!;
      // The spline as a cubic of t, the place between the knots.
      const p0 = (c0 + 4 * c1 + c2) / 6;
      const p1 = (c2 - c0) / 2;
      const p2 = (c0 - 2 * c1 + c2) / 2;
      const p3 = (c3 - c0 + 3 * (c1 - c2)) / 6;
      let m0 = 0, m1 = 0, m2 = 0, m3 = 0, m4 = 0, m5 = 0, m6 = 0;
      let d0 = 0, d1 = 0, d2 = 0, d3 = 0;
      const start = k * spacing;
      const end = Math.min(n, start + spacing);
      let squares = 0, count = 0;
      for (let i = start; i < end; i += step) {
        if (i > skipFrom) {
          if (i < skipTo) continue;
          while (i >= skipTo) {
            branch += jumps[nextJump]!.sign;
            nextJump++;
            skipFrom = jumps[nextJump]?.first ?? n;
            skipTo = jumps[nextJump]?.last ?? n;
          }
          if (i > skipFrom) continue;
        }
        const y = (signal[i]! - middle) * inverse;
        if (y !== y) continue;
        const t = (i - start) * perSample;
        const phase = ((p3 * t + p2) * t + p1) * t + p0;
        const inTurn = phase -
          turn * (folded ? branch : Math.floor(phase * perTurn + half));
        let place = (inTurn + offset) * perRadian;
        place = place < 0 ? 0 : place > lastEntry ? lastEntry : place;
        const j = entryOf[place | 0]!;
        const cosine = table[j]!;
        const g = slopes[j]!;
        const v = weights[j]!;
        const near = inTurn - phases[j]!;
        const e = y - cosine;
        const corrected = e - g * near;
        const residual = near < 0.02 && near > -0.02 ? corrected : e;
        squares += v * residual * residual;
        count += v;
        const wg = v * g;
        let moment = wg * corrected;
        d0 += moment;
        moment *= t;
        d1 += moment;
        moment *= t;
        d2 += moment;
        d3 += moment * t;
        if (((i - start) & mask) !== 0) continue;
        const vr = v * residual;
        const vc = v * cosine;
        sn += v;
        sr += vr;
        src += vr * cosine;
        sc += vc;
        scc += vc * cosine;
        let weight = wg * g;
        m0 += weight;
        weight *= t;
        m1 += weight;
        weight *= t;
        m2 += weight;
        weight *= t;
        m3 += weight;
        weight *= t;
        m4 += weight;
        weight *= t;
        m5 += weight;
        m6 += weight * t;
      }
      const looked = end - start;
      this.squares[k] = squares;
      this.counts[k] = count;
      const once = scale * looked / Math.ceil(looked / sparse);
      const moments = this.#moments;
      moments[0] = once * m0;
      moments[1] = once * m1;
      moments[2] = once * m2;
      moments[3] = once * m3;
      moments[4] = once * m4;
      moments[5] = once * m5;
      moments[6] = once * m6;
      const full = scale * looked / Math.ceil(looked / step) / 6;
      const e0 = full * d0, e1 = full * d1, e2 = full * d2, e3 = full * d3;
      moments[7] = e0 - 3 * e1 + 3 * e2 - e3;
      moments[8] = 4 * e0 - 6 * e2 + 3 * e3;
      moments[9] = e0 + 3 * e1 + 3 * e2 - 3 * e3;
      moments[10] = e3;
      this.#addInterval(k, coefficients);
    }
    this.#sums = { n: sn, r: sr, rc: src, c: sc, cc: scc };
  }

  /** Adds what the moments of one interval say; the step becomes a spline. */
  #addInterval(k: number, coefficients: Float64Array): void {
    const { band, right } = this.#system;
    const moments = this.#moments;
    let o = 0;
    for (let a = 0; a < 4; a++) {
      right[k + a]! += moments[7 + a]!;
      for (let b = 0; b <= a; b++) {
        let sum = 0;
        for (let m = 0; m < 7; m++) {
          sum += productsOfBasis[o + m]! * moments[m]!;
        }
        o += 7;
        band[4 * (k + a) + 3 - a + b]! += sum;
        right[k + a]! += sum * coefficients[k + b]!;
        if (b < a) right[k + b]! += sum * coefficients[k + a]!;
      }
    }
  }
}

/** Powers of t in the four B-splines over an interval, times 6. */
const powersOfBasis = [
  [1, -3, 3, -1],
  [4, 0, -6, 3],
  [1, 3, 3, -3],
  [0, 0, 0, 1],
] as const;

/** Powers of t in the products of two of them, for a ≥ b row by row. */
const productsOfBasis = Float64Array.from(
  powersOfBasis.flatMap((first, a) =>
    powersOfBasis.slice(0, a + 1).flatMap((second) =>
      Array.from({ length: 7 }, (_, m) =>
        first.reduce<number>(
          (sum, value, k) => sum + value * (second[m - k] ?? 0),
          0,
        ) / 36)
    )
  ),
);
