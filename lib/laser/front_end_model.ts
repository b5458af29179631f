import { checkpoint } from "../progress/mod.ts";
/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

/** From monitor current to voltage, as the simulated bench knows it. */
export interface FrontEndModel {
  /** Transimpedance, in V/A. @default {100e3} */
  transimpedance: number;
  /** Whether more light gives less voltage. @default {false} */
  inverting: boolean;
  /**
   * Bandwidth, in Hz: -3 dB frequency of one pole, or natural frequency of two
   * where `qualityFactor` is given; `null` for no limit.
   *
   * @default {null}
   */
  bandwidth: number | null;
  /** Quality factor of two poles (1); `null` for one pole. @default {null} */
  qualityFactor: number | null;
  /** Corner of the coupling capacitor, in Hz; `null` for DC. @default {null} */
  couplingCorner: number | null;
  /** Gain after the coupling capacitor (1). @default {1} */
  voltageGain: number;
  /** Voltage added at the output, in V. @default {0} */
  offset: number;
  /** Output rails, in V; `null` for none. @default {null} */
  rails: { low: number; high: number } | null;
}

/** Every option of {@linkcode FrontEndModel} left out. */
export const defaultFrontEnd: Readonly<FrontEndModel> = Object.freeze({
  transimpedance: 100e3,
  inverting: false,
  bandwidth: null,
  qualityFactor: null,
  couplingCorner: null,
  voltageGain: 1,
  offset: 0,
  rails: null,
});

/**
 * Turns monitor current (A) into voltage (V), in place. The capacitor starts as
 * if the signal had been running before.
 */
export function applyFrontEnd(
  samples: Float64Array,
  samplingRate: number,
  model: FrontEndModel,
): void {
  const { bandwidth, qualityFactor, couplingCorner, rails } = model;
  const gain = model.inverting ? -model.transimpedance : model.transimpedance;
  for (let i = 0; i < samples.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, "amplifier");
    samples[i]! *= gain;
  }
  if (bandwidth !== null && qualityFactor === null) {
    lowPass(samples, samplingRate, bandwidth);
  } else if (bandwidth !== null && qualityFactor !== null) {
    resonantLowPass(samples, samplingRate, bandwidth, qualityFactor);
  }
  if (couplingCorner !== null) {
    highPass(samples, samplingRate, couplingCorner);
  }
  const low = rails?.low ?? -Infinity;
  const high = rails?.high ?? Infinity;
  for (let i = 0; i < samples.length; i++) {
    if ((i & 0xffff) === 0) checkpoint(i / samples.length, "amplifier");
    const value = samples[i]! * model.voltageGain + model.offset;
    samples[i] = value < low ? low : value > high ? high : value;
  }
}

function mean(samples: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < samples.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, "amplifier");
    sum += samples[i]!;
  }
  return sum / samples.length;
}

function lowPass(samples: Float64Array, rate: number, corner: number): void {
  const keep = Math.exp(-2 * Math.PI * corner / rate);
  let state = samples[0] ?? 0;
  for (let i = 0; i < samples.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, "amplifier");
    state = samples[i]! + keep * (state - samples[i]!);
    samples[i] = state;
  }
}

function highPass(samples: Float64Array, rate: number, corner: number): void {
  const keep = Math.exp(-2 * Math.PI * corner / rate);
  let state = mean(samples);
  for (let i = 0; i < samples.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, "amplifier");
    state = samples[i]! + keep * (state - samples[i]!);
  }
  for (let i = 0; i < samples.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, "amplifier");
    state = samples[i]! + keep * (state - samples[i]!);
    samples[i]! -= state;
  }
}

/** Two poles, mapped by z = exp(s/rate), with the gain at 0 Hz kept. */
function resonantLowPass(
  samples: Float64Array,
  rate: number,
  frequency: number,
  quality: number,
): void {
  const natural = 2 * Math.PI * frequency / rate;
  const decay = natural / (2 * quality);
  const spread = Math.sqrt(Math.abs(1 - 1 / (4 * quality * quality)));
  const sum = quality > 0.5
    ? 2 * Math.exp(-decay) * Math.cos(natural * spread)
    : Math.exp(-decay + natural * spread) +
      Math.exp(-decay - natural * spread);
  const product = Math.exp(-2 * decay);
  const gain = 1 - sum + product;
  let before = samples[0] ?? 0;
  let beforeThat = before;
  for (let i = 0; i < samples.length; i++) {
    if ((i & 0xffff) === 0) checkpoint(i / samples.length, "amplifier");
    const value = gain * samples[i]! + sum * before - product * beforeThat;
    beforeThat = before;
    before = value;
    samples[i] = value;
  }
}
