import { feedbackPhase } from "../laser/mod.ts";
import type { Samples } from "../capture/mod.ts";

/** C of the table: from the first jumps to where most fringes are lost. */
const parameters = Array.from({ length: 24 }, (_, k) => 1.2 * 1.16 ** k);

let table: readonly number[] | null = null;

/** Heights of the jumps at `parameters`, as a part of the whole fringe (1). */
function heights(): readonly number[] {
  const forward = Float64Array.from({ length: 2000 }, (_, i) => i / 20);
  return table ??= parameters.map((feedbackParameter) => {
    const { phase, jumpIndices } = feedbackPhase(forward, {
      feedbackParameter,
    });
    const jumps = Array.from(jumpIndices).filter((i) => i > 0).map((i) =>
      Math.abs(Math.cos(phase[i]!) - Math.cos(phase[i - 1]!)) / 2
    ).sort((a, b) => a - b);
    return jumps[jumps.length >> 1]!;
  });
}

/** Least jumps that are told from noise. */
const leastJumps = 4;
/** Least height of a jump, as a part of the whole signal and in noise (1). */
const leastHeight = 0.12;
const leastInNoise = 8;
/** Least part of a jump that happens from one sample to the next (1). */
const leastSharpness = 0.75;

/**
 * Feedback parameter C by the height of the jumps of saw-toothed fringes: above
 * C = 1 the phase jumps at the end of each branch, over less and less of a whole
 * fringe the larger C is. Good to about a third, and blind where the amplifier
 * rounds the jumps; for a hint, not for a measurement.
 *
 * @param samples Fringe signal.
 * @param low Lowest of the fringes, in its unit.
 * @param high Highest of the fringes, in its unit.
 * @param noise White noise, in its unit (rms).
 * @returns C (1); `NaN` where there are no sharp jumps.
 *
 * Source: jumps of the excess-phase equation, Yu, Giuliani, Donati 2004; fringes
 * are lost above C = 4.6 (Donati 2012).
 */
export function feedbackOfJumps(
  samples: Samples,
  low: number,
  high: number,
  noise: number,
): number {
  const whole = high - low;
  const least = Math.max(leastHeight * whole, leastInNoise * noise);
  const found: number[] = [];
  for (let i = 2; i < samples.length - 2; i++) {
    const step = samples[i]! - samples[i - 1]!;
    if (!(Math.abs(step) > least)) continue;
    const around = Math.abs(samples[i + 1]! - samples[i - 2]!);
    if (Math.abs(step) < leastSharpness * around) continue;
    found.push(Math.abs(step) / whole);
  }
  if (found.length < leastJumps) return NaN;
  found.sort((a, b) => a - b);
  const height = found[found.length >> 1]!;
  const heightOf = heights();
  for (let k = 0; k < parameters.length; k++) {
    if (heightOf[k]! <= height) return parameters[k]!;
  }
  return parameters.at(-1)!;
}
