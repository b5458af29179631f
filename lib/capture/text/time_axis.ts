import type { Samples } from "../capture.ts";
import { warn, type Warning } from "../../result/mod.ts";

/** What a column of times says. */
export interface TimeAxis {
  /** Samples per second from first to last time, in Hz; `NaN` if unusable. */
  readonly samplingRate: number;
  /** First time, in s. */
  readonly start: number;
  /** Largest distance of a time from the even grid, in s. */
  readonly largestDeviation: number;
  /** Samples missing in gaps, estimated. */
  readonly missingSamples: number;
  /** Rows at which time steps back. */
  readonly backSteps: number;
  readonly warnings: readonly Warning[];
}

/**
 * Looks at a column of times: the interval is the median step, refined over the
 * whole span when time runs evenly.
 *
 * @param times Times, in s.
 * @returns What it says, with warnings where it is not even.
 */
export function readTimeAxis(times: Samples): TimeAxis {
  const count = times.length;
  const start = times[0] ?? NaN;
  const end = times[count - 1] ?? NaN;
  const bad = (code: string, message: string): TimeAxis => ({
    samplingRate: NaN,
    start,
    largestDeviation: NaN,
    missingSamples: 0,
    backSteps: 0,
    warnings: [warn(code, message)],
  });
  if (count < 2) return bad("one-sample", "One time gives no sampling rate");
  const step = medianStep(times);
  if (!(step > 0)) {
    return bad(
      "time-not-rising",
      `The time column does not rise: its median step is ${step} s`,
    );
  }
  let backSteps = 0;
  let missingSamples = 0;
  let unreadable = 0;
  for (let index = 1; index < count; index++) {
    const d = times[index]! - times[index - 1]!;
    if (d !== d) unreadable++;
    else if (d < 0) backSteps++;
    else if (d > 1.5 * step) missingSamples += Math.round(d / step) - 1;
  }
  const warnings: Warning[] = [];
  const mean = (end - start) / (count - 1);
  const even = missingSamples === 0 && backSteps === 0 && mean > 0;
  const interval = even ? mean : step;
  let largestDeviation = 0;
  for (let index = 0; index < count; index++) {
    const off = Math.abs(times[index]! - (start + index * interval));
    if (off > largestDeviation) largestDeviation = off;
  }
  if (backSteps > 0) {
    warnings.push(warn(
      "time-runs-back",
      `Time steps back at ${backSteps} of ${count} rows: the file may hold several records one after the other. Read one record at a time`,
    ));
  }
  if (missingSamples > 0) {
    warnings.push(warn(
      "time-gap",
      `The time column leaves out about ${missingSamples} samples in gaps: samples after a gap carry a wrong time. Record again, or cut the capture at the gap`,
    ));
  } else if (even && largestDeviation > 0.6 * interval) {
    warnings.push(warn(
      "non-uniform-time",
      `Time is not evenly spaced: samples sit up to ${
        (largestDeviation / interval).toPrecision(2)
      } intervals off an even grid. Record with a fixed sampling rate, or give 'samplingRate'`,
    ));
  }
  if (unreadable > 0) {
    warnings.push(warn(
      "time-missing",
      `${unreadable} steps of the time column have no value`,
    ));
  }
  return {
    // One rounding: 17999 steps in 0.089995 s are 200 kHz to the last bit.
    samplingRate: even ? (count - 1) / (end - start) : 1 / step,
    start,
    largestDeviation,
    missingSamples,
    backSteps,
    warnings,
  };
}

/** Median of up to 4097 steps spread over the column, in s. */
function medianStep(times: Samples): number {
  const stride = Math.max(1, Math.floor((times.length - 1) / 4096));
  const steps: number[] = [];
  for (let index = 1; index < times.length; index += stride) {
    const step = times[index]! - times[index - 1]!;
    if (step === step) steps.push(step);
  }
  steps.sort((a, b) => a - b);
  const middle = steps[steps.length >> 1] ?? NaN;
  if (middle > 0) return middle;
  // Times printed with too few digits repeat: use the mean step instead.
  return (times[times.length - 1]! - times[0]!) / (times.length - 1);
}
