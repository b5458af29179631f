import type { Samples } from "../capture.ts";
import type { ChannelLevels, SampleRun } from "./levels.ts";

/**
 * Finds dropouts: eight or more equal samples entered or left by a jump that
 * the signal does not otherwise make. Runs at the extremes are clipping, not
 * dropouts.
 */
export function findDropouts(
  samples: Samples,
  levels: ChannelLevels,
): SampleRun[] {
  const { minimum, maximum, resolution } = levels;
  if (!(maximum > minimum)) return [];
  const jumps: number[] = [];
  const stride = Math.max(1, Math.ceil(samples.length / 32768));
  for (let index = 1; index < samples.length; index += stride) {
    const jump = Math.abs(samples[index]! - samples[index - 1]!);
    if (jump > 0) jumps.push(jump);
  }
  jumps.sort((a, b) => a - b);
  const usual = jumps[Math.floor(jumps.length * 0.9)] ?? 0;
  const limit = Math.max(4 * usual, resolution > 0 ? 3 * resolution : 0);
  const runs: SampleRun[] = [];
  let start = 0;
  for (let index = 1; index <= samples.length; index++) {
    if (index < samples.length && samples[index] === samples[start]) continue;
    const length = index - start;
    const value = samples[start]!;
    if (length >= 8 && value > minimum && value < maximum) {
      const entry = start > 0 ? Math.abs(value - samples[start - 1]!) : 0;
      const exit = index < samples.length
        ? Math.abs(samples[index]! - value)
        : 0;
      if (Math.max(entry, exit) > limit) runs.push({ start, length });
    } else if (length >= 8 && (value === 0) && index < samples.length) {
      const exit = Math.abs(samples[index]! - value);
      if (exit > limit && start > 0) runs.push({ start, length });
    }
    start = index;
  }
  return runs;
}
