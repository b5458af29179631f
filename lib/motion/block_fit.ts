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
  /** Mean weighted squared residual over the squared amplitude (1). */
  readonly meanSquare: number;
  /** Change of the middle level that the residuals ask for, over the amplitude. */
  readonly middleChange: number;
  /** Relative change of the amplitude that the residuals ask for (1). */
  readonly amplitudeChange: number;
}

const turn = 2 * Math.PI;

/** Fits splines to blocks of one length without making new arrays. */
export class BlockFitter {
  readonly #system: PhaseSystem;
  readonly #basis: Float64Array;
  readonly spacing: number;
  readonly size: number;
  /** Weighted squared residuals between neighbouring knots (1). */
  readonly squares: Float64Array;
  /** Weights between neighbouring knots (1). */
  readonly counts: Float64Array;
  #sums = { squares: 0, count: 0, r: 0, rc: 0, c: 0, cc: 0 };

  constructor(length: number, spacing: number) {
    this.spacing = spacing;
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

  /** One Gauss–Newton step from a known spline. */
  refine(
    signal: Float64Array,
    length: number,
    coefficients: Float64Array,
    parameters: FringeParameters,
    model: FringeModel,
    relativeNoise: number,
    labels: PhaseLabels,
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
    const { squares, count, r, rc, c, cc } = this.#sums;
    const determinant = count * cc - c * c;
    const solvable = determinant > 1e-3 * count * count;
    return {
      coefficients,
      factor: this.#system.band,
      meanSquare: squares / Math.max(1, count),
      middleChange: solvable ? (r * cc - rc * c) / determinant : 0,
      amplitudeChange: solvable ? (count * rc - c * r) / determinant : 0,
    };
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

  #accumulate(
    signal: Float64Array,
    n: number,
    coefficients: Float64Array,
    parameters: FringeParameters,
    model: FringeModel,
    relativeNoise: number,
    labels: PhaseLabels,
  ): void {
    const { middle, amplitude } = parameters;
    const { shift, reach, perRadian, entryOf } = model;
    const { signal: table, phase: phases, slope: slopes, weight: weights } =
      model;
    const { band, right } = this.#system;
    const basis = this.#basis;
    const { spacing, size } = this;
    const scale = 1 / (relativeNoise * relativeNoise);
    const inverse = 1 / amplitude;
    const folded = model.feedback > 1;
    const jumps = folded ? labels.jumps : [];
    const lastEntry = entryOf.length - 1;
    const offset = shift + reach;
    const perTurn = 1 / turn;
    let nextJump = 0;
    let branch = labels.firstBranch;
    let skipFrom = jumps[0]?.first ?? n;
    let skipTo = jumps[0]?.last ?? n;
    let squares = 0, count = 0, sr = 0, src = 0, sc = 0, scc = 0;
    for (let k = 0; k < size - 3; k++) {
      const c0 = coefficients[k]!, c1 = coefficients[k + 1]!;
      const c2 = coefficients[k + 2]!, c3 = coefficients[k + 3]!;
      let a00 = 0, a01 = 0, a02 = 0, a03 = 0, a11 = 0;
      let a12 = 0, a13 = 0, a22 = 0, a23 = 0, a33 = 0;
      let d0 = 0, d1 = 0, d2 = 0, d3 = 0;
      const start = k * spacing;
      const end = Math.min(n, start + spacing);
      const squaresBefore = squares;
      const countBefore = count;
      for (let i = start; i < end; i++) {
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
        const o = 4 * (i - start);
        const b0 = basis[o]!, b1 = basis[o + 1]!;
        const b2 = basis[o + 2]!, b3 = basis[o + 3]!;
        const phase = c0 * b0 + c1 * b1 + c2 * b2 + c3 * b3;
        const base = turn *
          (folded ? branch : Math.floor((phase + shift) * perTurn + 0.5));
        let place = (phase - base + offset) * perRadian;
        place = place < 0 ? 0 : place > lastEntry ? lastEntry : place;
        const j = entryOf[place | 0]!;
        const cosine = table[j]!;
        const g = slopes[j]!;
        const v = weights[j]!;
        const near = phase - base - phases[j]!;
        const e = y - cosine;
        const residual = near < 0.02 && near > -0.02 ? e - g * near : e;
        const vr = v * residual;
        squares += vr * residual;
        count += v;
        sr += vr;
        src += vr * cosine;
        sc += v * cosine;
        scc += v * cosine * cosine;
        const wg = v * g;
        const wgg = wg * g;
        const wd = wg * (e + g * (phases[j]! + base));
        const w0 = wgg * b0, w1 = wgg * b1, w2 = wgg * b2, w3 = wgg * b3;
        a00 += w0 * b0;
        a01 += w0 * b1;
        a02 += w0 * b2;
        a03 += w0 * b3;
        a11 += w1 * b1;
        a12 += w1 * b2;
        a13 += w1 * b3;
        a22 += w2 * b2;
        a23 += w2 * b3;
        a33 += w3 * b3;
        d0 += wd * b0;
        d1 += wd * b1;
        d2 += wd * b2;
        d3 += wd * b3;
      }
      this.squares[k] = squares - squaresBefore;
      this.counts[k] = count - countBefore;
      const r = 4 * k + 3;
      band[r]! += scale * a00;
      band[r + 3]! += scale * a01;
      band[r + 4]! += scale * a11;
      band[r + 6]! += scale * a02;
      band[r + 7]! += scale * a12;
      band[r + 8]! += scale * a22;
      band[r + 9]! += scale * a03;
      band[r + 10]! += scale * a13;
      band[r + 11]! += scale * a23;
      band[r + 12]! += scale * a33;
      right[k]! += scale * d0;
      right[k + 1]! += scale * d1;
      right[k + 2]! += scale * d2;
      right[k + 3]! += scale * d3;
    }
    this.#sums = { squares, count, r: sr, rc: src, c: sc, cc: scc };
  }
}
