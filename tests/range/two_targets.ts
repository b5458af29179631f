import { createCapture } from "fringebook";
import { createRandom } from "fringebook/signal";

/** A bench with up to two targets; shares no line with the library. */
export interface TargetsBench {
  /** Distances, in m. */
  readonly distances: readonly number[];
  /** Feedback parameter of each (1). */
  readonly feedback: readonly number[];
  /** Signal-to-noise ratio of the strongest fringes, in dB. */
  readonly decibels?: number;
  /** Ramp from 35 to 45 mA, periods per second, in Hz. */
  readonly frequency?: number;
  /** Bend of the tuning over the ramp (1). */
  readonly bend?: number;
  /** How much the light grows over the ramp, over its mean (1). */
  readonly growth?: number;
  readonly seed?: number;
}

/** dλ/dI of the bench, in m/A. */
export const tuning = 8e-9;
export const wavelength = 650e-9;

/**
 * Lang and Kobayashi's steady state with two reflectors: Δω τ1 = -Σ C_j (τ1/τ_j)
 * sin(φ_j + arctan α), solved sample by sample from the one before by Newton's
 * method; the power follows Σ C_j/L_j cos φ_j. Current in A, signal in V.
 */
export function targetsCapture(bench: TargetsBench) {
  const { distances, feedback, decibels = 30, frequency = 25 } = bench;
  const { bend = 0.02, growth = 0.6, seed = 1 } = bench;
  const samplingRate = 100e3;
  const count = 9000;
  const random = createRandom(seed);
  const alpha = Math.atan(5);
  const first = distances[0]!;
  const start = random.uniform();
  // A place within a wavelength that nobody knows.
  const exact = distances.map((each) => each + 1e-6 * random.uniform());
  const current = new Float64Array(count);
  const signal = new Float64Array(count);
  const strength = feedback.map((each, j) => each / exact[j]!);
  const strongest = Math.max(...strength);
  const noise = 0.05 / Math.SQRT2 * 10 ** (-decibels / 20);
  let shift = 0;
  for (let i = 0; i < count; i++) {
    const turns = frequency * i / samplingRate + start;
    const part = turns - Math.floor(turns);
    const x = Math.abs(2 * part - 1) - 0.5;
    current[i] = 0.04 + 0.01 * x;
    const lambda = wavelength + tuning * 0.01 * (x + bend * x * x);
    const phases = exact.map((each) => 4 * Math.PI * 1.00027 * each / lambda);
    for (let round = 0; round < 50; round++) {
      let value = shift;
      let slope = 1;
      for (let j = 0; j < exact.length; j++) {
        const ratio = exact[j]! / first;
        const angle = phases[j]! + shift * ratio + alpha;
        value += feedback[j]! / ratio * Math.sin(angle);
        slope += feedback[j]! * Math.cos(angle);
      }
      const step = value / slope;
      shift -= Math.max(-0.3, Math.min(0.3, step));
      if (Math.abs(step) < 1e-12) break;
    }
    let fringes = 0;
    for (let j = 0; j < exact.length; j++) {
      fringes += strength[j]! / strongest *
        Math.cos(phases[j]! + shift * exact[j]! / first);
    }
    // The fringes are part of the light, and grow with it.
    const light = 1 + growth * x;
    signal[i] = 5 * light + 0.1 * x * x + 0.05 * light * fringes +
      noise * random.normal();
  }
  return createCapture([
    { name: "CH1", role: "monitor signal", unit: "V", samples: signal },
    { name: "CH2", role: "drive current", unit: "A", samples: current },
  ], { samplingRate });
}
