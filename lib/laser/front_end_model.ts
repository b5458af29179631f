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
  for (let i = 0; i < samples.length; i++) samples[i]! *= gain;
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
    const value = samples[i]! * model.voltageGain + model.offset;
    samples[i] = value < low ? low : value > high ? high : value;
  }
}

function mean(samples: Float64Array): number {
  let sum = 0;
  for (const value of samples) sum += value;
  return sum / samples.length;
}

function lowPass(samples: Float64Array, rate: number, corner: number): void {
  const keep = Math.exp(-2 * Math.PI * corner / rate);
  let state = samples[0] ?? 0;
  for (let i = 0; i < samples.length; i++) {
    state = samples[i]! + keep * (state - samples[i]!);
    samples[i] = state;
  }
}

function highPass(samples: Float64Array, rate: number, corner: number): void {
  const keep = Math.exp(-2 * Math.PI * corner / rate);
  let state = mean(samples);
  for (const value of samples) state = value + keep * (state - value);
  for (let i = 0; i < samples.length; i++) {
    state = samples[i]! + keep * (state - samples[i]!);
    samples[i]! -= state;
  }
}

/** Two poles, by the bilinear transform with the natural frequency kept. */
function resonantLowPass(
  samples: Float64Array,
  rate: number,
  frequency: number,
  quality: number,
): void {
  // Above the Nyquist frequency the bilinear transform has no such pole.
  const angle = Math.PI * Math.min(frequency / rate, 0.49);
  const k = Math.tan(angle);
  const norm = 1 / (1 + k / quality + k * k);
  const b = k * k * norm;
  const a1 = 2 * (k * k - 1) * norm;
  const a2 = (1 - k / quality + k * k) * norm;
  let x1 = samples[0] ?? 0;
  let x2 = x1, y1 = x1, y2 = x1;
  for (let i = 0; i < samples.length; i++) {
    const x = samples[i]!;
    const y = b * (x + 2 * x1 + x2) - a1 * y1 - a2 * y2;
    x2 = x1;
    x1 = x;
    y2 = y1;
    y1 = y;
    samples[i] = y;
  }
}
