import { type Capture, checkCapture, findChannel } from "../capture/mod.ts";
import type { Warning } from "../result/mod.ts";
import { feedbackOfJumps } from "./jump_height.ts";

/** What is read off the last stretch of a live signal. */
export interface LiveReading {
  /** Name of the monitor channel. */
  readonly channel: string;
  /** Unit of level, fringes and noise, such as `"V"`. */
  readonly unit: string;
  /** Mean of the monitor signal, in `unit`. */
  readonly level: number;
  /** Lowest and highest of the monitor signal, in `unit`. */
  readonly low: number;
  /** Highest of the monitor signal, in `unit`. */
  readonly high: number;
  /**
   * Height of the fringes from top to bottom without the noise, in `unit`: that of
   * a sine of the same rms, 2 sqrt(2) sqrt(s² - σ²).
   */
  readonly fringes: number;
  /**
   * Contrast of the fringes (1): half of their height over the level; `NaN` where
   * the signal lies on both sides of zero, as behind a coupling capacitor.
   */
  readonly contrast: number;
  /** Part of the samples that is stuck at an end of the range (1). */
  readonly clippedFraction: number;
  /** Where they are stuck; `null` where none are. */
  readonly clippedAt: "top" | "bottom" | "both ends" | null;
  /** White noise, in `unit` (rms). */
  readonly noise: number;
  /** Fringe power over noise power, in dB: without the hum. */
  readonly signalToNoise: number;
  /** Fringes per second where they come fastest, in Hz; `NaN`: none are seen. */
  readonly fringeRate: number;
  /** Mains hum that stands out; `null` for none. */
  readonly hum: {
    /** Mains frequency, in Hz. */
    readonly frequency: number;
    /** Amplitude, in `unit`. */
    readonly amplitude: number;
  } | null;
  /** C by the height of the jumps (1), for a hint; `NaN` where it is not seen. */
  readonly feedbackParameter: number;
  /** Highest current of the drive, in A; `NaN` where no channel tells. */
  readonly highestCurrent: number;
  /** Whether the drive moves by more than its noise. */
  readonly driven: boolean;
  /** What the check of a capture says of the stretch. */
  readonly warnings: readonly Warning[];
}

/**
 * Reads level, fringes, contrast, clipping, noise and fringe rate off a stretch of
 * samples: what `checkCapture` finds, and what is made of it.
 *
 * @param capture The last stretch, some tenths of a second.
 * @returns The reading.
 */
export function readMeter(capture: Capture): LiveReading {
  const check = checkCapture(capture);
  const monitor = findChannel(capture, "monitor signal") ??
    capture.channels[0]!;
  const drive = findChannel(capture, "drive current");
  const own = check.channels.find(({ name }) => name === monitor.name)!;
  const { levels, noise, clippedFraction, hum } = own;
  const { fringeSignal } = check.diagnostics;
  const { low, high, deviation } = extentOf(fringeSignal);
  const humAmplitude = hum?.standsOut ? hum.amplitudes[0]! : 0;
  const power = deviation ** 2 - noise ** 2 - humAmplitude ** 2 / 2;
  const fringes = 2 * Math.SQRT2 * Math.sqrt(Math.max(0, power)) || 0;
  const stuck = clippedFraction > 0.0005 || !(levels.maximum > levels.minimum)
    ? stuckAt(monitor)
    : null;
  const reach = drive === null ? null : extentOf(drive.samples);
  return {
    channel: monitor.name,
    unit: monitor.unit,
    level: levels.mean,
    low: levels.low,
    high: levels.high,
    fringes,
    // A signal on both sides of zero is not coupled with DC: its mean is no level.
    contrast: levels.low * levels.high > 0
      ? fringes / 2 / Math.abs(levels.mean)
      : NaN,
    clippedFraction: stuck !== null && !(levels.maximum > levels.minimum)
      ? 1
      : clippedFraction,
    clippedAt: stuck,
    noise,
    signalToNoise: humAmplitude === 0 || !(noise > 0)
      ? own.signalToNoise
      : 10 * Math.log10(Math.max(0, power) / noise ** 2),
    fringeRate: check.fringeRate.value,
    hum: humAmplitude > 0 &&
        check.warnings.some(({ code }) => code === "mains-hum")
      ? { frequency: hum!.frequency, amplitude: humAmplitude }
      : null,
    // Cut tops and hum change what part of the whole a jump is.
    feedbackParameter: stuck !== null || humDrowns(fringes, humAmplitude)
      ? NaN
      : feedbackOfJumps(fringeSignal, low, high, noise),
    highestCurrent: reach === null ? NaN : reach.high,
    driven: reach !== null && reach.high - reach.low > 0.02 * reach.high,
    warnings: check.warnings,
  };
}

/**
 * Whether hum, from top to bottom, is more than half as high as the fringes
 * (common practice, no source).
 */
export function humDrowns(fringes: number, amplitude: number): boolean {
  return 2 * amplitude > 0.5 * fringes;
}

/** At which end of the digitiser's range samples are stuck. */
function stuckAt(
  { samples, fullScale }: Capture["channels"][number],
): LiveReading["clippedAt"] {
  const { low, high } = extentOf(samples);
  const limits = fullScale ?? { low, high };
  if (!(high > low) && fullScale === null) return null;
  const margin = 0.002 * (limits.high - limits.low);
  let top = 0;
  let bottom = 0;
  for (const value of samples) {
    if (value >= limits.high - margin) top++;
    else if (value <= limits.low + margin) bottom++;
  }
  const least = 0.0005 * samples.length;
  return top > least && bottom > least
    ? "both ends"
    : top > least
    ? "top"
    : bottom > least
    ? "bottom"
    : null;
}

function extentOf(samples: Float64Array | Float32Array) {
  let low = Infinity;
  let high = -Infinity;
  let sum = 0;
  let squares = 0;
  let count = 0;
  const shift = samples.find(Number.isFinite) ?? 0;
  for (const value of samples) {
    if (value !== value) continue;
    if (value < low) low = value;
    if (value > high) high = value;
    const from = value - shift;
    sum += from;
    squares += from * from;
    count++;
  }
  const mean = sum / count;
  return {
    low,
    high,
    deviation: Math.sqrt(Math.max(0, squares / count - mean * mean)),
  };
}
