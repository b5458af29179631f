import { checkpoint } from "../../progress/mod.ts";
import type { Samples } from "../capture.ts";
import type { ChannelLevels, SampleRun } from "./levels.ts";

/** Fewest samples that stand still. */
const fewest = 8;
/** Most runs of equal samples looked at for their usual length. */
const mostRuns = 65536;

/**
 * Finds dropouts: eight or more equal samples, four times as many as usual in
 * this channel, entered or left by a jump twice as large as the 90 % point of all steps.
 * The flat top of a quantised fringe has no such jump, the slow stroke of a
 * coarse sawtooth no such length. Runs at the extremes are clipping unless they
 * are zero.
 */
export function findDropouts(
  samples: Samples,
  levels: ChannelLevels,
): SampleRun[] {
  const { minimum, maximum, resolution } = levels;
  if (!(maximum > minimum)) return [];
  const { usualJump, usualRun } = usual(samples);
  const limit = Math.max(2 * usualJump, resolution > 0 ? 3 * resolution : 0);
  const longest = Math.max(fewest, 4 * usualRun);
  const runs: SampleRun[] = [];
  let start = 0;
  for (let index = 1; index <= samples.length; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(NaN, "look for dropouts");
    const value = samples[start]!;
    if (index < samples.length && samples[index] === value) continue;
    const length = index - start;
    if (
      length >= longest && (value === 0 || (value > minimum && value < maximum))
    ) {
      const entry = start > 0 ? Math.abs(value - samples[start - 1]!) : 0;
      const exit = index < samples.length
        ? Math.abs(samples[index]! - value)
        : 0;
      if (Math.max(entry, exit) > limit) runs.push({ start, length });
    }
    start = index;
  }
  return runs;
}

/** 90 % points of steps between samples and of runs of equal ones. */
function usual(samples: Samples): { usualJump: number; usualRun: number } {
  const stride = Math.max(1, Math.ceil(samples.length / 32768));
  const jumps = new Float64Array(Math.ceil(samples.length / stride));
  let jumpCount = 0;
  for (let index = 1; index < samples.length; index += stride) {
    const jump = Math.abs(samples[index]! - samples[index - 1]!);
    if (jump > 0) jumps[jumpCount++] = jump;
  }
  const runs = new Float64Array(Math.min(samples.length, mostRuns));
  let runCount = 0;
  let length = 1;
  for (let index = 1; index < samples.length && runCount < mostRuns; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(NaN, "look for dropouts");
    if (samples[index] === samples[index - 1]) length++;
    else {
      runs[runCount++] = length;
      length = 1;
    }
  }
  const at = (values: Float64Array) =>
    values.sort()[Math.floor(values.length * 0.9)] ?? 0;
  return {
    usualJump: at(jumps.subarray(0, jumpCount)),
    usualRun: at(runs.subarray(0, runCount)),
  };
}
