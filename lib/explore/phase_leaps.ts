import type { Samples } from "../capture/mod.ts";
import { sortValues } from "../order/mod.ts";
import { checkpoint } from "../progress/mod.ts";

/** Leaps of the phase of an even row of fringes, at even times. */
export interface PhaseLeaps {
  /** How many there are (1). */
  readonly count: number;
  /** How often they come, in Hz. */
  readonly frequency: number;
}

const mostSamples = 1 << 18;
/** Change of the phase across a period of the fringes that is a leap, in rad. */
const leastLeap = 0.8;
/** What the phase may do in between, in rad, and in how much of the record. */
const quiet = { most: 0.35, share: 0.9 } as const;
const fewest = 3;
/** Scatter of the times between leaps over their mean, at most (1). */
const mostScatter = 0.06;
/** Fringes between two leaps, at least. */
const fewestFringes = 4;

/**
 * Looks for leaps of the phase that come at even times in an otherwise even row of
 * fringes: a sawtooth drives the target, and its flyback hides between two samples.
 * A flyback by whole fringes hides altogether.
 *
 * The samples are turned back by the frequency of the fringes and averaged over one
 * of their periods; the phase is compared across that period.
 *
 * @param samples The monitor signal, all finite.
 * @param samplingRate In Hz.
 * @param frequency Frequency of the fringes, in Hz.
 * @returns The leaps; `null` where there are none.
 */
export function findPhaseLeaps(
  samples: Samples,
  samplingRate: number,
  frequency: number,
): PhaseLeaps | null {
  const n = Math.min(samples.length, mostSamples);
  const period = Math.max(2, Math.round(samplingRate / frequency));
  if (n < 4 * fewestFringes * period) return null;
  const real = new Float64Array(n + 1);
  const imaginary = new Float64Array(n + 1);
  let level = 0;
  for (let i = 0; i < n; i++) level += samples[i]! / n;
  for (let i = 0; i < n; i++) {
    if ((i & 0xffff) === 0xffff) checkpoint(NaN, "look for leaps of the phase");
    const angle = 2 * Math.PI * (frequency * i / samplingRate % 1);
    real[i + 1] = real[i]! + (samples[i]! - level) * Math.cos(angle);
    imaginary[i + 1] = imaginary[i]! - (samples[i]! - level) * Math.sin(angle);
  }
  const change = new Float64Array(n - 2 * period);
  for (let i = 0; i < change.length; i++) {
    // Mean over the period before sample i + period, and over that from it on.
    const [a, b, c] = [i, i + period, i + 2 * period];
    const [r1, i1] = [real[b]! - real[a]!, imaginary[b]! - imaginary[a]!];
    const [r2, i2] = [real[c]! - real[b]!, imaginary[c]! - imaginary[b]!];
    change[i] = Math.atan2(i2 * r1 - r2 * i1, r2 * r1 + i2 * i1);
  }
  // A frequency that is a little off turns all along.
  const usual = sortValues(change.slice())[change.length >> 1]!;
  const places: number[] = [];
  let disturbed = 0;
  for (let i = 0; i < change.length; i++) {
    if (!(Math.abs(change[i]! - usual) > leastLeap)) continue;
    let at = i;
    const end = Math.min(change.length, i + 2 * period);
    for (let k = i; k < end; k++) {
      if (Math.abs(change[k]! - usual) > Math.abs(change[at]! - usual)) at = k;
    }
    places.push(at);
    i = at + period;
  }
  if (places.length < fewest) return null;
  let next = 0;
  for (let i = 0; i < change.length; i++) {
    while (next < places.length && i > places[next]! + 2 * period) next++;
    const isBeside = next < places.length && i > places[next]! - 2 * period;
    if (!isBeside && Math.abs(change[i]! - usual) > quiet.most) disturbed++;
  }
  if (disturbed > (1 - quiet.share) * change.length) return null;
  const steps = places.slice(1).map((place, k) => place - places[k]!);
  const mean = steps.reduce((sum, step) => sum + step, 0) / steps.length;
  const isEven = steps.every((step) =>
    Math.abs(step - mean) < mostScatter * mean
  );
  return isEven && mean > fewestFringes * period
    ? { count: places.length, frequency: samplingRate / mean }
    : null;
}
