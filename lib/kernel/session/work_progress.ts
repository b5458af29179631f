import { expectedWork, expectWork } from "../../progress/mod.ts";
import type { Output } from "../protocol/interpreter.ts";

/** Key of an output's metadata that marks it as progress, for who keeps none. */
export const progressKey = "fringebook_progress";

/** Options of {@linkcode WorkProgress}. */
export interface WorkProgressOptions {
  /**
   * Time after which a cell shows what it does, in s.
   *
   * @default {1}
   */
  delay?: number;
  /**
   * Shortest time between two updates, in s.
   *
   * @default {0.4}
   */
  interval?: number;
  /**
   * Clock, in s; for tests.
   *
   * @default {() => performance.now() / 1000}
   */
  clock?: () => number;
}

/**
 * Shows what a cell that takes longer than a second does, how far it is and how
 * long it will take still, from the checkpoints of the work itself: one output
 * of the cell that is updated in place.
 */
export class WorkProgress {
  readonly #delay: number;
  readonly #interval: number;
  readonly #clock: () => number;
  #publish: ((output: Output) => void) | null = null;
  #started = 0;
  #displayId: string | null = null;
  #work = "";
  #workSince = 0;
  #fraction = NaN;
  #shownAt = -Infinity;

  constructor(options: WorkProgressOptions = {}) {
    const {
      delay = 1,
      interval = 0.4,
      clock = () => performance.now() / 1000,
    } = options;
    this.#delay = delay;
    this.#interval = interval;
    this.#clock = clock;
  }

  /** A cell begins. */
  begin(publish: (output: Output) => void): void {
    this.#publish = publish;
    expectWork(null);
    this.#started = this.#clock();
    this.#displayId = null;
    this.#work = "";
    this.#fraction = NaN;
    this.#shownAt = -Infinity;
  }

  /** The work is at a checkpoint. */
  at(fraction: number, work: string): void {
    if (this.#publish === null) return;
    const now = this.#clock();
    // One without a name is part of the work around it.
    if (work !== "") {
      if (work !== this.#work || fraction < this.#fraction) {
        this.#work = work;
        this.#workSince = now;
      }
      this.#fraction = fraction;
    }
    if (
      now - this.#started < this.#delay || now - this.#shownAt < this.#interval
    ) return;
    this.#shownAt = now;
    this.#show(this.#text(now), this.#fraction);
  }

  /** The cell has ended. */
  end(isComplete: boolean): void {
    if (this.#publish !== null && this.#displayId !== null) {
      const seconds = timeText(this.#clock() - this.#started);
      if (isComplete) this.#show(`Done in ${seconds}`, NaN);
      else {
        const part = percent(this.#fraction);
        this.#show(
          `Stopped after ${seconds}${
            this.#work === "" ? "" : `, in ${this.#work}${part && ` at${part}`}`
          }`,
          NaN,
        );
      }
    }
    this.#publish = null;
  }

  #text(now: number): string {
    const left = this.#fraction > 0.02
      ? (now - this.#workSince) * (1 - this.#fraction) / this.#fraction
      : NaN;
    const time = Number.isFinite(left)
      ? `${timeText(left)} left`
      : `${timeText(now - this.#started)} so far`;
    const part = percent(this.#fraction);
    const expected = expectedWork();
    return `${this.#work || "Working"}:${part}${part && ","} ${time}${
      expected === null ? "" : ` (${expected})`
    }`;
  }

  #show(text: string, fraction: number): void {
    const isFirst = this.#displayId === null;
    this.#displayId ??= crypto.randomUUID();
    const bar = Number.isFinite(fraction)
      ? `<progress aria-label="${escape(this.#work)}" value="${
        Math.min(1, Math.max(0, fraction)).toFixed(3)
      }" max="1"></progress> `
      : "";
    this.#publish?.({
      type: isFirst ? "display_data" : "update_display_data",
      data: {
        "text/html": `<p>${bar}<small>${escape(text)}</small></p>`,
        "text/plain": text,
      },
      metadata: { [progressKey]: true },
      displayId: this.#displayId,
    });
  }
}

function percent(fraction: number): string {
  return Number.isFinite(fraction) ? ` ${Math.floor(100 * fraction)} %` : "";
}

/** `"0.3 s"`, `"42 s"`, `"3 min 05 s"`. */
function timeText(seconds: number): string {
  if (seconds < 9.95) return `${seconds.toFixed(1)} s`;
  const whole = Math.round(seconds);
  return whole < 60
    ? `${whole} s`
    : `${Math.floor(whole / 60)} min ${String(whole % 60).padStart(2, "0")} s`;
}

function escape(text: string): string {
  return text.replaceAll("&", "&amp;").replaceAll("<", "&lt;")
    .replaceAll('"', "&quot;");
}
