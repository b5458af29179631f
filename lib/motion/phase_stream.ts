import { checkpoint } from "../progress/mod.ts";
import { BlockFitter } from "./block_fit.ts";
import type { Detection } from "./detection.ts";
import { createEffort } from "./effort.ts";
import { decideDirections } from "./directions.ts";
import { drawSpline } from "./drawn_spline.ts";
import { findExtremes } from "./extremes.ts";
import { type FringeModel, fringeModel } from "./fringe_model.ts";
import { fillGaps } from "./gaps.ts";
import { labelsOf, type Reading } from "./hypotheses.ts";
import { jumpLabels } from "./jump_labels.ts";
import { cutLegs } from "./legs.ts";
import type { FringeParameters, PhaseFit } from "./phase_fit.ts";
import type { Jump } from "./phase_labels.ts";
import { Patience } from "./patience.ts";
import {
  type PhaseBlock,
  type PhaseStreamState,
  withGaps,
} from "./phase_block.ts";
import { phaseUncertainty } from "./phase_uncertainty.ts";
import { smooth } from "./smooth.ts";
import { mend } from "./settled_reading.ts";
import { isForeign, type StreamTraining } from "./training.ts";
import { unwrapPhase } from "./unwrap_phase.ts";

/** Records up to this length are fitted as a whole. */
export const longestJointRecord = 1 << 17;

/**
 * Tracks φ0 through a stream of any length in bounded memory: feedback is taken
 * from the first samples, then overlapping blocks are fitted with it and joined.
 * A block that does not follow is mended and unwrapped anew, at the cost of time;
 * where that is in vain again and again, only one block of 2, 4, … 32.
 */
export class PhaseStream {
  readonly #training: StreamTraining;
  readonly #fitter: BlockFitter;
  readonly #model: FringeModel;
  readonly #buffer: Float64Array;
  readonly #smoothed: Float64Array;
  readonly #phase: Float64Array;
  readonly #uncertainty: Float32Array;
  /** Samples of a block but the last. */
  readonly #length: number;
  readonly #overlap: number;
  readonly #width: number;
  readonly #emit: (block: PhaseBlock) => void;
  #parameters: FringeParameters;
  #filled = 0;
  /** Whether the block at hand is the last. */
  #finishing = false;
  /** Stream index of the buffer's first sample. */
  #start = 0;
  /** Stream index of the next sample to give out. */
  #next = 0;
  readonly #patience: Patience;
  /** φ0 given out last, and the one a little before, in rad. */
  #join: { index: number; phase: Float64Array } | null = null;

  constructor(
    training: StreamTraining,
    emit: (block: PhaseBlock) => void,
    state: PhaseStreamState | null = null,
  ) {
    const { fit, unwrapped } = training;
    const { detection } = unwrapped;
    this.#training = training;
    this.#emit = emit;
    this.#parameters = fit.parameters;
    const relativeNoise = Math.max(
      fit.noise / fit.parameters.amplitude,
      1e-4,
    );
    this.#model = fringeModel(
      fit.parameters.p,
      fit.parameters.q,
      relativeNoise,
    );
    const slow = longestLeg(detection.extremes.index);
    this.#overlap = Math.round(
      Math.min(1 << 15, Math.max(1024, 16 * fit.spacing, 2 * slow)),
    );
    const length = Math.max(1 << 16, 4 * this.#overlap);
    // The last block gets at least half a length of its own.
    const room = length + (length >> 1);
    this.#length = length;
    this.#buffer = new Float64Array(room);
    this.#smoothed = new Float64Array(room);
    this.#phase = new Float64Array(room);
    this.#uncertainty = new Float32Array(room);
    // Near a fold every sample tells something of its own.
    const evenness = this.#model.feedback > 0.9 ? 1 : detection.fastest;
    this.#fitter = new BlockFitter(room, fit.spacing, evenness);
    this.#width = detection.width;
    this.#patience = new Patience(
      state?.patience ?? (training.isForeign ? "gone" : [0, 0]),
    );
    if (state === null) return;
    this.#buffer.set(withGaps(state.waiting));
    this.#filled = state.waiting.length;
    this.#start = state.start;
    this.#next = state.next;
    this.#join = state.join === null ? null : {
      index: state.join.index,
      phase: Float64Array.from(state.join.phase),
    };
    this.#parameters = state.parameters;
  }

  /** Where it stands, as plain data. */
  state(): PhaseStreamState {
    return {
      waiting: Array.from(this.#buffer.subarray(0, this.#filled)),
      start: this.#start,
      next: this.#next,
      join: this.#join === null
        ? null
        : { index: this.#join.index, phase: Array.from(this.#join.phase) },
      parameters: this.#parameters,
      patience: this.#patience.state(),
    };
  }

  /** Takes samples in; blocks come out through `emit`. */
  push(samples: ArrayLike<number>, from = 0, to = samples.length): void {
    let i = from;
    while (i < to) {
      const count = Math.min(to - i, this.#buffer.length - this.#filled);
      if (samples instanceof Float64Array) {
        this.#buffer.set(samples.subarray(i, i + count), this.#filled);
      } else {
        for (let k = 0; k < count; k++) {
          this.#buffer[this.#filled + k] = samples[i + k]!;
        }
      }
      this.#filled += count;
      i += count;
      if (this.#filled === this.#buffer.length) this.#process(false);
    }
  }

  /** Gives out what is left. */
  finish(): void {
    if (this.#start + this.#filled > this.#next) this.#process(true);
  }

  #process(last: boolean): void {
    this.#finishing = last;
    const length = last ? this.#filled : this.#length;
    const signal = this.#buffer.subarray(0, length);
    const { works } = this.#patience;
    let block = this.#fitBlock(signal, length, works);
    if (this.#isDoubtful(block)) {
      if (works) {
        const mended = block;
        const better = this.#unwrapAnew(signal);
        if (
          better !== null &&
          (block === null || better.relativeNoise < 0.95 * block.relativeNoise)
        ) block = better;
        const helped = block !== mended && !block!.isForeign ||
          mended !== null && mended.misfits <= mended.misfitsAtFirst / 2;
        this.#patience.learn(helped);
      } else this.#patience.pass();
    }
    block ??= this.#hold(length);
    const joined = this.#joinOn(block);
    const from = this.#next - this.#start;
    const to = last ? length : length - (this.#overlap >> 1);
    const first = this.#start;
    this.#emit({
      first: this.#next,
      phase: block.phase.subarray(from, to),
      uncertainty: block.uncertainty.subarray(from, to),
      jumps: block.jumps
        .filter((jump) => jump.last > from && jump.last <= to)
        .map((jump) => ({
          ...jump,
          first: jump.first + first,
          last: jump.last + first,
        })),
      relativeNoise: block.relativeNoise,
      misfits: block.misfits,
      joined,
    });
    this.#next = first + to;
    const keep = Math.min(length, this.#overlap);
    this.#join = {
      index: first + length - keep,
      phase: block.phase.slice(length - keep),
    };
    this.#buffer.copyWithin(0, length - keep, this.#filled);
    this.#start = first + length - keep;
    this.#filled += keep - length;
  }

  #isDoubtful(block: FittedBlock | null): boolean {
    const { noise } = this.#training.fit;
    return block === null || block.misfits > 0 ||
      block.relativeNoise > 1.5 * noise / this.#parameters.amplitude + 0.01;
  }

  /** Shifts a block by whole turns to meet the one before. */
  #joinOn(block: FittedBlock): boolean {
    const join = this.#join;
    if (join === null) return true;
    const { phase } = block;
    const at = this.#next - this.#start;
    let sum = 0;
    const span = Math.min(64, join.phase.length >> 2);
    for (let i = at - span; i < at; i++) sum += join.phase[i]! - phase[i]!;
    const mean = sum / span;
    const offset = 2 * Math.PI * Math.round(mean / (2 * Math.PI));
    const shift = Number.isFinite(offset) ? offset : 0;
    for (let i = 0; i < phase.length; i++) phase[i]! += shift;
    return Math.abs(mean - shift) < 0.3;
  }

  /** φ0 of a block with the feedback known. */
  #fitBlock(
    signal: Float64Array,
    length: number,
    mends: boolean,
  ): FittedBlock | null {
    const spline = this.#fitSpline(signal, length, mends);
    if (spline === null) return null;
    const phase = this.#phase.subarray(0, length);
    const uncertainty = this.#uncertainty.subarray(0, length);
    drawSpline(spline.coefficients, spline.spacing, phase);
    phaseUncertainty(spline, length, uncertainty);
    return {
      ...spline,
      phase,
      uncertainty,
      jumps: this.#model.feedback > 1 ? spline.labels.jumps : [],
      isForeign: false,
    };
  }

  /** Labels and fits a block, and mends the places that do not fit. */
  #fitSpline(
    signal: Float64Array,
    length: number,
    mends: boolean,
  ): FittedSpline | null {
    const { detection } = this.#training.unwrapped;
    const parameters = this.#parameters;
    const { middle, amplitude } = parameters;
    const { noise } = this.#training.fit;
    const hasGaps = signal.includes(NaN);
    const whole = hasGaps ? fillGaps(signal) : signal;
    const smoothed = this.#smoothed.subarray(0, length);
    smooth(whole, this.#width, smoothed);
    const width = this.#width;
    const smoothedNoise = noise / Math.sqrt(width === 1 ? 1 : 1.5 * width);
    const extremes = findExtremes(
      smoothed,
      Math.max(0.25 * amplitude, Math.min(7 * smoothedNoise, 1.3 * amplitude)),
    );
    if (extremes.index.length < 3) return null;
    const legs = cutLegs(smoothed, extremes, 2 * amplitude);
    const known: Detection = {
      scale: { ...detection.scale, middle, amplitude, noise },
      width,
      fastest: detection.fastest,
      extremes,
      legs,
      smoothedNoise: smoothedNoise / amplitude,
      height: null,
      effort: createEffort(),
    };
    let reading = this.#read(whole, known);
    if (reading === null) return null;
    let block = this.#fitReading(signal, whole, known, reading);
    if (block === null || !mends) return block;
    const misfitsAtFirst = block.misfits;
    if (block.misfits > 0) {
      block = this.#fitReading(signal, whole, known, reading, 8);
    }
    for (let round = 0; round < 3; round++) {
      if (block === null || block.misfits === 0) break;
      const mended = mend(signal, known, reading, {
        ...this.#training.fit,
        parameters: this.#parameters,
        coefficients: block.coefficients,
        labels: block.labels,
      });
      if (mended === null) break;
      const next = this.#fitReading(signal, whole, known, mended, 6);
      if (next === null || !(next.relativeNoise < block.relativeNoise)) break;
      reading = mended;
      block = next;
    }
    return block === null ? null : { ...block, misfitsAtFirst };
  }

  /** First reading of a block with the feedback known. */
  #read(whole: Float64Array, known: Detection): Reading | null {
    const { extremes, legs, scale, smoothedNoise, fastest } = known;
    if (this.#model.feedback > 1) {
      const labels = jumpLabels(
        whole,
        extremes,
        Math.max(1, Math.floor(fastest / 8)),
      );
      return labels === null ? null : { kind: "jumps", labels };
    }
    const { direction } = decideDirections(
      extremes,
      legs,
      scale.middle,
      scale.amplitude,
      smoothedNoise,
      expectedAsymmetry(this.#model.q),
    );
    this.#agree(direction, extremes.index);
    return {
      kind: "smooth",
      direction,
      ends: { turnsAtFirst: false, turnsAtLast: false },
    };
  }

  #fitReading(
    signal: Float64Array,
    whole: Float64Array,
    known: Detection,
    reading: Reading,
    passes = 2,
  ): FittedSpline | null {
    const { length } = signal;
    const parameters = this.#parameters;
    const labels = labelsOf(reading, known, length);
    const relativeNoise = Math.max(
      this.#training.fit.noise / parameters.amplitude,
      1e-4,
    );
    const fitter = this.#fitter;
    const stride = Math.max(1, Math.floor(known.fastest / 5));
    let coefficients: Float64Array = fitter.start(
      whole,
      parameters,
      relativeNoise,
      labels,
      stride,
    );
    for (let pass = 0; pass < passes; pass++) {
      // What one pass leaves is squared by the next: the first of two may be
      // coarse.
      const next = fitter.refine(
        signal,
        length,
        coefficients,
        parameters,
        this.#model,
        relativeNoise,
        labels,
        passes === 2 && pass === 0 ? fitter.sparse : 1,
      );
      if (next === null) return null;
      coefficients = next;
    }
    const fit = fitter.finish(coefficients);
    // The sums are those of the spline before the last step.
    // What lies in the overlap is fitted better by the neighbouring block.
    const from = this.#next - this.#start;
    const to = length - (this.#finishing ? 0 : this.#overlap >> 1);
    const misfits = fitter.misfits(
      Math.max(1.05 * relativeNoise, 0.01),
      from,
      to,
    );
    if (misfits === 0) {
      this.#followLevels(fit.middleChange, fit.amplitudeChange);
    }
    return {
      coefficients,
      spacing: fitter.spacing,
      factor: fit.factor.slice(),
      coupling: [],
      covariance: this.#training.fit.covariance,
      labels,
      relativeNoise: Math.sqrt(fitter.meanSquare(from, to)),
      misfits,
      misfitsAtFirst: misfits,
    };
  }

  /** Slow drifts of the levels are followed from block to block. */
  #followLevels(middleChange: number, amplitudeChange: number): void {
    const { middle, amplitude } = this.#parameters;
    const small = (value: number) => Math.max(-0.1, Math.min(0.1, value / 2));
    this.#parameters = {
      ...this.#parameters,
      middle: middle + amplitude * small(middleChange),
      amplitude: amplitude * (1 + small(amplitudeChange)),
    };
  }

  /** Nearly symmetric fringes: the way goes on as in the overlap. */
  #agree(direction: Int8Array, index: Int32Array): void {
    const join = this.#join;
    if (join === null || this.#model.q > 0.3) return;
    let agreement = 0;
    for (let k = 0; k < direction.length; k++) {
      const to = index[k + 1]!;
      if (to >= join.phase.length * 0.75) break;
      agreement += direction[k]! * (join.phase[to]! - join.phase[index[k]!]!);
    }
    if (agreement >= 0) return;
    for (let k = 0; k < direction.length; k++) direction[k] = -direction[k]!;
  }

  /** The slow and thorough way for one block. */
  #unwrapAnew(signal: Float64Array): FittedBlock | null {
    checkpoint(NaN, "unwrap a block anew");
    const unwrapped = unwrapPhase(signal.slice(), { mends: false });
    if (unwrapped === null) return null;
    const { fit } = unwrapped;
    // Another polarity or feedback than at the start is no better reading.
    if (
      fit.parameters.p * this.#parameters.p < 0 && this.#model.feedback > 0.3
    ) {
      return null;
    }
    const phase = new Float64Array(signal.length);
    drawSpline(fit.coefficients, fit.spacing, phase);
    return {
      phase,
      uncertainty: phaseUncertainty(fit, signal.length),
      jumps: fit.model.feedback > 1 ? fit.labels.jumps : [],
      relativeNoise: fit.noise / fit.parameters.amplitude,
      misfits: fit.noise < 1.1 * this.#training.fit.noise ? 0 : 1,
      misfitsAtFirst: 0,
      isForeign: isForeign(signal, unwrapped),
    };
  }

  /** No fringe in the block: the target rests as far as can be seen. */
  #hold(length: number): FittedBlock {
    const last = this.#join?.phase.at(-1) ?? 0;
    return {
      phase: new Float64Array(length).fill(last),
      uncertainty: new Float32Array(length).fill(Math.PI / 2),
      jumps: [],
      relativeNoise: NaN,
      misfits: 0,
      misfitsAtFirst: 0,
      isForeign: false,
    };
  }
}

interface FittedBlock {
  readonly phase: Float64Array;
  readonly uncertainty: Float32Array;
  readonly jumps: readonly Jump[];
  readonly relativeNoise: number;
  /** Places where the fit leaves more than the noise. */
  readonly misfits: number;
  /** The same before any was mended. */
  readonly misfitsAtFirst: number;
  /** Whether it follows other fringes than the excess-phase equation makes. */
  readonly isForeign: boolean;
}

/** Spline of a block, before it is drawn out. */
interface FittedSpline extends
  Pick<
    PhaseFit,
    | "coefficients"
    | "spacing"
    | "factor"
    | "coupling"
    | "covariance"
    | "labels"
  >,
  Pick<FittedBlock, "relativeNoise" | "misfits" | "misfitsAtFirst"> {}

/** Logarithm of slow over fast legs' duration at C sin ψ = q. */
function expectedAsymmetry(q: number): number {
  const half = Math.asin(0.6);
  const part = Math.min(0.9, q * 0.6 / half);
  return Math.min(2, Math.log((1 + part) / (1 - part)));
}

function longestLeg(index: Int32Array): number {
  let longest = 0;
  for (let k = 1; k < index.length; k++) {
    longest = Math.max(longest, index[k]! - index[k - 1]!);
  }
  return longest;
}
