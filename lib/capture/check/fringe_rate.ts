import { select } from "../../order/mod.ts";
import { checkpoint } from "../../progress/mod.ts";
import type { Samples } from "../capture.ts";

const work = "count fringes";

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
    if ((index & 0x1ffff) === 0) checkpoint(NaN, work);
    const value = samples[index]!;
    if (value < low) armed = true;
    else if (armed && value > high) {
      armed = false;
      times.push(index);
    }
  }
  const rates = new Float64Array(Math.max(0, times.length - 3));
  for (let index = 0; index < rates.length; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(NaN, work);
    rates[index] = 3 * samplingRate / (times[index + 3]! - times[index]!);
  }
  const at = (place: number) => rates.length > 0 ? select(rates, place) : NaN;
  return {
    fastest: at(Math.floor(rates.length * 0.98)),
    median: at(rates.length >> 1),
    crossingCount: times.length,
  };
}
