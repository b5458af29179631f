/** How a source keeps to the clock. */
export interface ClockCheck {
  /** Samples per second by the clock, in Hz; `NaN` until that can be told. */
  readonly measuredRate: number;
  /** Time since the last samples came, in s. */
  readonly silence: number;
}

/** Stretch from which a rate is told, in s. */
const stretch = 6;
/** Time from which on it can be told, in s. */
const leastTime = 4;
/** Part by which both halves of the stretch may differ (1). */
const evenness = 0.05;

/**
 * Compares the samples that come with the clock: a source that stalls, and one
 * whose sampling rate is not what it says. What comes unevenly, such as the start
 * of a file that was there already, tells no rate.
 */
export class RateWatch {
  #recent: { readonly time: number; readonly count: number }[] = [];

  /** Samples came. */
  push(count: number, now: number): void {
    const last = this.#recent.at(-1);
    // Begins anew after a pause: what was waiting comes at once.
    if (last !== undefined && now - last.time > 1) this.#recent = [];
    this.#recent.push({ time: now, count });
    if (this.#recent[0]!.time < now - 1.5 * stretch) {
      this.#recent = this.#recent.filter(({ time }) => time > now - stretch);
    }
  }

  /** How it stands. */
  check(now: number): ClockCheck {
    const first = this.#recent[0];
    const last = this.#recent.at(-1);
    if (first === undefined || last === undefined) {
      return { measuredRate: NaN, silence: 0 };
    }
    const silence = now - last.time;
    const time = last.time - first.time;
    if (time < leastTime) return { measuredRate: NaN, silence };
    const middle = first.time + time / 2;
    const between = (from: number, to: number) =>
      this.#recent.reduce(
        (sum, each) =>
          each.time > from && each.time <= to ? sum + each.count : sum,
        0,
      ) / (to - from);
    const early = between(first.time, middle);
    const late = between(middle, last.time);
    const isEven = Math.abs(early - late) < evenness * Math.max(early, late);
    return { measuredRate: isEven ? (early + late) / 2 : NaN, silence };
  }
}
