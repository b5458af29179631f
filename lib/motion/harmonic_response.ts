import type { Channel } from "../capture/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { type Quantity, quantity } from "../result/mod.ts";

/** A harmonic of the motion. */
interface OwnHarmonic {
  readonly order: number;
  /** Amplitude, in m, and phase of its cosine at the first sample, in rad. */
  readonly amplitude: Quantity;
  readonly phase: Quantity;
}

/** A drive has nothing of a harmonic below this part of its strongest one. */
const leastPart = 3e-3;
/** Amplitudes of the drive below so many of their standard uncertainties. */
const leastSigma = 5;

/**
 * The response of a motion at the harmonics of its drive: amplitude over that of
 * the drive, and phase against it. The drive's harmonics follow by projection over
 * whole periods, their noise from what is left of the drive.
 *
 * @param drive The drive.
 * @param harmonics Harmonics of the motion.
 * @param cycles Periods per sample.
 * @param count Samples of the whole periods.
 * @returns One per harmonic; `null` where the drive has nothing of it.
 */
export function responseAtHarmonics(
  { samples, unit }: Channel,
  harmonics: readonly OwnHarmonic[],
  cycles: number,
  count: number,
): ({ gain: Quantity; phase: Quantity } | null)[] {
  const n = Math.min(count, samples.length);
  let mean = 0;
  for (let i = 0; i < n; i++) mean += samples[i]! / n;
  let all = 0;
  for (let i = 0; i < n; i++) all += (samples[i]! - mean) ** 2;
  const found = harmonics.map(({ order }) => {
    checkpoint(NaN, "compare with the drive");
    const turnReal = Math.cos(2 * Math.PI * order * cycles);
    const turnImaginary = Math.sin(2 * Math.PI * order * cycles);
    let a = 0, b = 0, c = 1, s = 0;
    for (let i = 0; i < n; i++) {
      const value = samples[i]! - mean;
      a += value * c;
      b -= value * s;
      const next = c * turnReal - s * turnImaginary;
      s = c * turnImaginary + s * turnReal;
      c = next;
    }
    return { amplitude: 2 * Math.hypot(a, b) / n, phase: Math.atan2(b, a) };
  });
  let rest = all;
  for (const { amplitude } of found) rest -= n * amplitude * amplitude / 2;
  const u = Math.sqrt(2 * Math.max(0, rest) / n / n);
  const strongest = Math.max(...found.map(({ amplitude }) => amplitude));
  return harmonics.map((own, k) => {
    const { amplitude, phase } = found[k]!;
    const isDriven = amplitude > leastPart * strongest &&
      amplitude > leastSigma * u;
    if (!isDriven) return null;
    const gain = own.amplitude.value / amplitude;
    const turns = (own.phase.value - phase) / (2 * Math.PI);
    return {
      gain: quantity(
        gain,
        Math.hypot(own.amplitude.standardUncertainty, gain * u) / amplitude,
        `m/${unit}`,
      ),
      phase: quantity(
        2 * Math.PI * (turns - Math.round(turns)),
        Math.hypot(own.phase.standardUncertainty, u / amplitude),
        "rad",
      ),
    };
  });
}
