import { warn, type Warning } from "../result/mod.ts";

/**
 * Rates of real recorders, in Hz: from one sample in a quarter of an hour to some
 * times the fastest oscilloscopes (common practice, no source).
 */
const possible = { low: 1e-3, high: 1e12 };

/** Says so where no recorder samples at a rate. */
export function doubtfulRate(samplingRate: number): Warning[] {
  if (samplingRate >= possible.low && samplingRate <= possible.high) return [];
  return [warn(
    "sampling-rate-impossible",
    `The sampling rate is ${samplingRate} Hz, at which no recorder samples: every time, frequency and speed follows from it. Give the true one as 'samplingRate', or say the unit of the time column`,
  )];
}
