import type { PresenceCalibration } from "../level/mod.ts";
import type { LiveReading } from "./meter.ts";
import type { ReadProximity } from "./watch_options.ts";
import { Threshold } from "./threshold.ts";

/** Time over which a level is averaged where no calibration says it, in s. */
const averagingTime = 0.02;

function isCalibration(given: ReadProximity): given is PresenceCalibration {
  return "threshold" in given;
}

/**
 * Tells whether something is near: by the level, averaged over some hundredths of
 * a second, as each such stretch ends; or by the height of the fringes, once for
 * each picture.
 */
export class LivePresence {
  readonly threshold: Threshold;
  readonly #by: "level" | "fringes";
  /** From the unit of the channel to that of the threshold, with its sign. */
  readonly #factor: number;
  readonly #length: number;
  readonly #samplingRate: number;
  #sum = 0;
  #count = 0;
  #seen = 0;

  /**
   * @param given Two values, or what `calibratePresence` found.
   * @param samplingRate Samples per second, in Hz.
   * @param unit Unit of the monitor channel.
   * @throws {RangeError} If the units do not fit, or the values are exchanged.
   */
  constructor(given: ReadProximity, samplingRate: number, unit: string) {
    this.#samplingRate = samplingRate;
    if (isCalibration(given)) {
      const own = unit === "V" ? "A" : unit;
      if (own !== given.unit) {
        throw new RangeError(
          `Cannot watch for something near as the monitor channel is in ${unit} and the threshold in ${given.unit}: give both the same unit`,
        );
      }
      const sign = given.change === "rise" ? 1 : -1;
      this.#by = "level";
      this.#factor = sign * (unit === "V" ? given.factor : 1);
      this.#length = Math.round(given.averagingTime * samplingRate);
      this.threshold = new Threshold(
        sign * given.threshold,
        sign * given.release,
      );
      return;
    }
    this.#by = given.by;
    this.#factor = 1;
    this.#length = Math.round(averagingTime * samplingRate);
    this.threshold = new Threshold(given.near, given.far);
  }

  /** Takes samples of the monitor signal in. */
  push(samples: Float64Array, joined: boolean): void {
    if (this.#by !== "level") {
      this.#seen += samples.length;
      return;
    }
    if (!joined) this.#sum = this.#count = 0;
    for (const value of samples) {
      this.#seen++;
      if (value !== value) continue;
      this.#sum += value;
      if (++this.#count < this.#length) continue;
      const level = this.#factor * this.#sum / this.#count;
      this.threshold.push(this.#seen / this.#samplingRate, level);
      this.#sum = this.#count = 0;
    }
  }

  /** Takes a reading of the meter in. */
  read({ fringes }: LiveReading): void {
    if (this.#by === "level") return;
    this.threshold.push(this.#seen / this.#samplingRate, fringes);
  }
}
