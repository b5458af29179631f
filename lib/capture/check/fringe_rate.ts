import { checkpoint } from "../../progress/mod.ts";
import type { Samples } from "../capture.ts";

/** How fast fringes come. */
export interface FringeRate {
  /** Fringes per second where they come fastest, in Hz; `NaN` if under 3. */
  readonly fastest: number;
  /** Fringes per second in the middle, in Hz; `NaN` if under 3. */
  readonly median: number;
  /** Rising crossings found. */
  readonly crossingCount: number;
}

/**
 * Counts rising crossings of the middle with hysteresis and gives the rate where
 * they come fastest (98 % point of the rates over three fringes in a row).
 *
 * @param samples Fringe signal, any unit.
 * @param samplingRate In Hz.
 * @param low Lower threshold, in the unit of the samples.
 * @param high Upper threshold, in the unit of the samples.
 */
export function measureFringeRate(
  samples: Samples,
  samplingRate: number,
  low: number,
  high: number,
): FringeRate {
  const times: number[] = [];
  let armed = false;
  for (let index = 0; index < samples.length; index++) {
    if ((index & 0x7ffff) === 0) checkpoint(NaN, "count fringes");
    const value = samples[index]!;
    if (value < low) armed = true;
    else if (armed && value > high) {
      armed = false;
      times.push(index);
    }
  }
  const rates: number[] = [];
  for (let index = 3; index < times.length; index++) {
    rates.push(3 * samplingRate / (times[index]! - times[index - 3]!));
  }
  rates.sort((a, b) => a - b);
  return {
    fastest: rates[Math.floor(rates.length * 0.98)] ?? NaN,
    median: rates[rates.length >> 1] ?? NaN,
    crossingCount: times.length,
  };
}
