import { NumberList } from "../../memory/mod.ts";
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
  /** Rises found. */
  readonly crossingCount: number;
}

/** Rises over passages of the middle from which the rises are counted. */
const fromStrongFeedback = 2;

/**
 * Counts rises through a band about the middle and gives the rate where they come
 * fastest (98 % point of the rates over three fringes in a row). At strong feedback
 * a fringe takes a part of the whole swing only, and the middle is passed where the
 * target turns: there each rise as high as the band counts, wherever it begins.
 *
 * @param samples Fringe signal, any unit.
 * @param samplingRate In Hz.
 * @param low Lower end of the band, in the unit of the samples.
 * @param high Upper end of the band, in the unit of the samples.
 */
export function measureFringeRate(
  samples: Samples,
  samplingRate: number,
  low: number,
  high: number,
): FringeRate {
  const passages = new NumberList();
  const rises = new NumberList();
  const least = high - low;
  let armed = false;
  let rising = true;
  let extreme = -Infinity;
  for (let index = 0; index < samples.length; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(NaN, work);
    const value = samples[index]!;
    if (value < low) armed = true;
    else if (armed && value > high) {
      armed = false;
      passages.push(index);
    }
    if (rising) {
      if (value > extreme) extreme = value;
      else if (value < extreme - least) {
        rising = false;
        extreme = value;
      }
    } else if (value < extreme) extreme = value;
    else if (value > extreme + least) {
      rising = true;
      extreme = value;
      rises.push(index);
    }
  }
  const times =
    (rises.length > fromStrongFeedback * passages.length ? rises : passages)
      .toArray();
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
