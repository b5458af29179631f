import { basisTable } from "./cubic_spline.ts";
import { branchEnd } from "./fringe_model.ts";
import {
  entryAt,
  type FringeModels,
  type HeightSpline,
} from "./fringe_height.ts";
import {
  addBorderRows,
  addHeightRows,
  addPhaseRows,
  type IntervalRows,
  makeRows,
  mirrorCorner,
} from "./interval_rows.ts";
import type { FringeParameters } from "./phase_fit.ts";
import type { PhaseLabels } from "./phase_labels.ts";
import { phaseAt, type PhaseSums, type PhaseSystem } from "./phase_system.ts";

/** The parameters with h of every sample (1). */
type HeightParameters = Omit<FringeParameters, "height"> & {
  readonly height: Float64Array;
};

const turn = 2 * Math.PI;
/** Unknowns of one sample: four of φ0, four of the fringe, four of its height. */
const unknowns = 12;
/** How firmly the mean height is held at 1, over what the samples say (1). */
const firmness = 1e4;
/** Standard deviation of second differences of h where no sample says any (1). */
const mostBend = 0.3;

/**
 * The system at a known spline where the height of the fringes changes: one
 * equation per sample, with h held or with its spline among the unknowns.
 *
 * At equal φ0 the signal h cos φF changes with h by
 * cos φF - (dy/dφ0) (p sin φF + q cos φF).
 *
 * @param system The system, empty.
 * @param signal The signal.
 * @param spacing Samples between knots of φ0.
 * @param basis Its basis, sample by sample.
 * @param coefficients Its spline.
 * @param parameters Feedback, levels and height.
 * @param models The fringes at all heights.
 * @param relativeNoise Noise over the amplitude (1).
 * @param labels Jumps.
 * @param outlier Residual from which on a sample pulls no harder (1).
 * @param spline The height's spline, or `null` to hold it.
 * @param every One sample in so many is looked at, and counts for all.
 * @returns The sums of squares.
 */
export function accumulateHeight(
  system: PhaseSystem,
  signal: Float64Array,
  spacing: number,
  basis: Float64Array,
  coefficients: Float64Array,
  parameters: HeightParameters,
  models: FringeModels,
  relativeNoise: number,
  labels: PhaseLabels,
  outlier: number,
  spline: HeightSpline | null,
  every = 1,
): PhaseSums {
  const scale = every / (relativeNoise * relativeNoise);
  const n = signal.length;
  const rows = makeRows(spacing);
  const ofHeight = spline === null ? null : {
    slope: new Float64Array(spacing),
    basis: basisTable(spline.spacing),
  };
  const reader = {
    signal,
    parameters,
    models,
    scale,
    outlier,
    every,
    walk: branchWalk(labels),
    rows,
    heightSlope: ofHeight?.slope ?? null,
    sums: { squares: 0, count: 0 },
  };
  for (let k = 0; k < system.size - 3; k++) {
    const start = k * spacing;
    const end = Math.min(n, start + spacing);
    if (every > 1) rows.weight.fill(0);
    readRows(reader, start, end, basis, coefficients, k);
    const { weight, slope, value } = rows;
    addPhaseRows(system, k, end - start, basis, weight, slope, value);
    addBorderRows(system, k, end - start, basis, rows);
    // From piece to piece of the height's spline.
    for (let i = start; ofHeight !== null && i < end;) {
      const wide = spline!.spacing;
      const m = Math.floor(i / wide);
      const last = Math.min(end, (m + 1) * wide);
      addHeightRows(
        system,
        k,
        i - start,
        last - start,
        basis,
        rows,
        ofHeight,
        m,
        start - m * wide,
      );
      i = last;
    }
  }
  mirrorCorner(system);
  const { sums } = reader;
  if (labels.mayFold) {
    addJumpsAtHeights(
      system,
      spacing,
      coefficients,
      parameters,
      models,
      labels,
      spline,
    );
  }
  if (spline !== null) holdMean(system, spline, n, scale);
  return sums;
}

/** What the rows of all intervals are read with. */
interface Reader {
  readonly signal: Float64Array;
  readonly parameters: HeightParameters;
  readonly models: FringeModels;
  readonly scale: number;
  readonly outlier: number;
  readonly every: number;
  readonly walk: (sample: number, feedback: number, t: number) => number;
  readonly rows: IntervalRows;
  /** Change of the signal with h (1); `null` where h is held. */
  readonly heightSlope: Float64Array | null;
  readonly sums: { squares: number; count: number };
}

/** What the samples of one interval say at a known spline. */
function readRows(
  reader: Reader,
  start: number,
  end: number,
  basis: Float64Array,
  coefficients: Float64Array,
  k: number,
): void {
  const { signal, parameters, models, scale, outlier, every } = reader;
  const { walk, rows, heightSlope, sums } = reader;
  const { p, q, middle, amplitude, height } = parameters;
  const c0 = coefficients[k]!, c1 = coefficients[k + 1]!;
  const c2 = coefficients[k + 2]!, c3 = coefficients[k + 3]!;
  let squares = 0;
  let count = 0;
  for (let i = start; i < end; i += every) {
    const r = i - start;
    const o = 4 * r;
    const y = (signal[i]! - middle) / amplitude;
    const h = height[i]!;
    const { model, height: near } = models.at(h);
    const phase = c0 * basis[o]! + c1 * basis[o + 1]! + c2 * basis[o + 2]! +
      c3 * basis[o + 3]!;
    const branch = walk(i, model.feedback, phase + model.shift);
    if (y !== y || branch !== branch) {
      rows.weight[r] = 0;
      continue;
    }
    const base = turn * branch;
    const j = entryAt(parameters, model, h - near, phase - base);
    const cosine = model.signal[j]!;
    const sine = model.sine[j]!;
    const excess = p * sine + q * cosine;
    // φ0 of the entry at the sample's own height.
    const entry = base + model.phase[j]! + (h - near) * excess;
    const miss = phase - entry;
    const derivative = Math.max(1 + h * (p * cosine - q * sine), 1e-9);
    const g = -h * sine / derivative;
    const left = y - h * cosine;
    const residual = miss < 0.02 && miss > -0.02 ? left - g * miss : left;
    const size = Math.abs(residual);
    const weight = model.weight[j]!;
    rows.weight[r] = scale * weight * (size > outlier ? outlier / size : 1);
    rows.slope[r] = g;
    rows.value[r] = left + g * entry;
    rows.sine[r] = h * sine;
    rows.cosine[r] = h * cosine;
    if (heightSlope !== null) heightSlope[r] = cosine - g * excess;
    squares += weight * residual * residual;
    count += weight;
  }
  sums.squares += squares;
  sums.count += count;
}

/**
 * Number of the branch of each sample in order of time, `NaN` on an edge: where
 * the height lets φF jump the jumps count it, elsewhere φ0 does.
 */
export function branchWalk(
  labels: PhaseLabels,
): (sample: number, feedback: number, t: number) => number {
  const { jumps, mayFold } = labels;
  let branch = labels.firstBranch;
  let next = 0;
  return (sample, feedback, t) => {
    if (!mayFold) return Math.round(t / turn);
    while (next < jumps.length && sample >= jumps[next]!.last) {
      branch += jumps[next]!.sign;
      next++;
    }
    if (!(feedback > 1)) branch = Math.round(t / turn);
    return sample > (jumps[next]?.first ?? Infinity) ? NaN : branch;
  };
}

/** Normal equations of neighbouring samples that have the same unknowns. */
class LocalSums {
  readonly #system: PhaseSystem;
  readonly #used: number;
  readonly #matrix = new Float64Array(unknowns * unknowns);
  readonly #right = new Float64Array(unknowns);
  #filled = false;

  constructor(system: PhaseSystem, used: number) {
    this.#system = system;
    this.#used = used;
  }

  add(row: Float64Array, value: number, weight: number): void {
    const matrix = this.#matrix;
    const right = this.#right;
    const used = this.#used;
    for (let a = 0; a < used; a++) {
      const w = weight * row[a]!;
      for (let b = 0; b <= a; b++) matrix[unknowns * a + b]! += w * row[b]!;
      right[a]! += w * value;
    }
    this.#filled = true;
  }

  /** Adds them to the system and starts anew. */
  flush(interval: number, piece: number): void {
    if (!this.#filled) return;
    const { size, columns, band, right, border, corner, cornerRight } =
      this.#system;
    const column = (a: number) => a < 8 ? a - 4 : a - 4 + piece;
    for (let a = 0; a < this.#used; a++) {
      for (let b = 0; b <= a; b++) {
        const value = this.#matrix[unknowns * a + b]!;
        if (a < 4) band[4 * (interval + a) + 3 - (a - b)]! += value;
        else if (b < 4) border[column(a) * size + interval + b]! += value;
        else {
          corner[columns * column(a) + column(b)]! += value;
          if (a !== b) corner[columns * column(b) + column(a)]! += value;
        }
      }
      if (a < 4) right[interval + a]! += this.#right[a]!;
      else cornerRight[column(a)]! += this.#right[a]!;
    }
    this.#matrix.fill(0);
    this.#right.fill(0);
    this.#filled = false;
  }
}

/** Each jump says that φ0 reached the end of its branch between two samples. */
function addJumpsAtHeights(
  system: PhaseSystem,
  spacing: number,
  coefficients: Float64Array,
  { p, q, height }: HeightParameters,
  models: FringeModels,
  labels: PhaseLabels,
  spline: HeightSpline | null,
): void {
  const basis = basisTable(2 * spacing);
  const heightBasis = spline === null ? null : basisTable(2 * spline.spacing);
  const sums = new LocalSums(system, spline === null ? 8 : unknowns);
  const row = new Float64Array(unknowns);
  const walk = branchWalk(labels);
  for (const { first, last, sign } of labels.jumps) {
    const h = height[first]!;
    const { model, height: near } = models.at(h);
    const before = phaseAt(coefficients, spacing, first);
    const branch = walk(first, model.feedback, before + model.shift);
    if (!(model.feedback > 1)) continue;
    const fold = branchEnd(model, sign);
    const excess = p * fold.sine + q * fold.cosine;
    const value = turn * branch + fold.phase + (h - near) * excess;
    const after = phaseAt(coefficients, spacing, last);
    const uncertainty = Math.hypot((after - before) / Math.sqrt(12), 1e-3);
    // In half samples: the middle of the edge.
    const middle = first + last;
    const k = Math.min(system.size - 4, Math.floor(middle / (2 * spacing)));
    const o = 4 * Math.min(2 * spacing - 1, middle - 2 * k * spacing);
    for (let a = 0; a < 4; a++) row[a] = basis[o + a]!;
    row[4] = -h * fold.sine;
    row[5] = -h * fold.cosine;
    row[6] = 0;
    row[7] = 0;
    let m = 0;
    if (heightBasis !== null) {
      const { spacing: wide, coefficients: all } = spline!;
      m = Math.min(all.length - 4, Math.floor(middle / (2 * wide)));
      const e = 4 * Math.min(2 * wide - 1, middle - 2 * m * wide);
      for (let a = 0; a < 4; a++) row[8 + a] = -excess * heightBasis[e + a]!;
    }
    sums.add(row, value, 1 / (uncertainty * uncertainty));
    sums.flush(k, m);
  }
}

/** Holds the mean of h at 1, and lets it bend little where nothing is seen. */
function holdMean(
  { columns, corner, cornerRight }: PhaseSystem,
  { coefficients }: HeightSpline,
  sampleCount: number,
  scale: number,
): void {
  const size = coefficients.length;
  // The mean of a spline is that of its inner coefficients, ends counted less.
  const share = (m: number) => {
    const ends = [1 / 24, 12 / 24, 23 / 24];
    return (ends[Math.min(m, size - 1 - m)] ?? 1) / (size - 3);
  };
  const mean = coefficients.reduce((sum, c, m) => sum + share(m) * c, 0);
  const weight = firmness * sampleCount * scale;
  for (let a = 0; a < size; a++) {
    for (let b = 0; b < size; b++) {
      corner[columns * (4 + a) + 4 + b]! += weight * share(a) * share(b);
    }
    cornerRight[4 + a]! += weight * share(a) * (1 - mean);
  }
  const part = [1, -2, 1];
  const bend = 1 / mostBend ** 2;
  for (let m = 2; m < size; m++) {
    const now = coefficients[m - 2]! - 2 * coefficients[m - 1]! +
      coefficients[m]!;
    for (let a = 0; a < 3; a++) {
      for (let b = 0; b < 3; b++) {
        corner[columns * (2 + m + a) + 2 + m + b]! += bend * part[a]! *
          part[b]!;
      }
      cornerRight[2 + m + a]! -= bend * part[a]! * now;
    }
  }
}
