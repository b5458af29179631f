import { checkpoint } from "../progress/mod.ts";
import { type Capture, requireChannel } from "../capture/mod.ts";
import type { NumberSequence } from "../signal/mod.ts";

const task = "measure a speed";

/** A copy as doubles without its mean; throws where samples are missing. */
export function withoutMean(samples: NumberSequence): Float64Array {
  const count = samples.length;
  if (count < 64) {
    throw new RangeError(
      `Cannot ${task} from ${count} samples: record at least 64`,
    );
  }
  let mean = 0;
  for (let i = 0; i < count; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, task);
    const value = samples[i]!;
    if (value - value !== 0) {
      throw new RangeError(
        `Cannot ${task} as sample ${i} of ${count} is ${value}: cut the capture around missing samples first`,
      );
    }
    mean += value / count;
  }
  const out = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, task);
    out[i] = samples[i]! - mean;
  }
  return out;
}

/** The band to search; filled in where the caller gave none. */
export function requireBand(
  band: { low: number; high: number } | null,
  samplingRate: number,
  duration: number,
): { low: number; high: number } {
  const nyquist = samplingRate / 2;
  const low = band?.low ?? Math.max(20 / duration, samplingRate / 4096);
  const high = band?.high ?? 0.98 * nyquist;
  if (!(low > 0 && low < high && high < nyquist)) {
    throw new RangeError(
      `Cannot ${task} as the search band must lie between 0 and half the sampling rate, ${nyquist} Hz: current band is ${low} to ${high} Hz (${
        duration * samplingRate
      } samples)`,
    );
  }
  return { low, high };
}

/** The monitor signal without the target; throws at another rate. */
export function requireBackground(
  background: Capture | null,
  samplingRate: number,
): Float64Array | null {
  if (background === null) return null;
  if (Math.abs(background.samplingRate / samplingRate - 1) > 1e-6) {
    throw new RangeError(
      `Cannot ${task} as the background capture has another sampling rate: ${background.samplingRate} Hz instead of ${samplingRate} Hz`,
    );
  }
  return withoutMean(requireChannel(background, "monitor signal").samples);
}
