import { extremesOf } from "../order/mod.ts";
import type { Capture } from "../capture/mod.ts";
import type { SampleRing } from "./sample_ring.ts";
import { findPassage } from "./trigger.ts";

/** A capture that is to be taken from the live samples. */
export interface ReadTake {
  /** Length, in s. */
  readonly duration: number;
  /** Whether it is taken at once, or when the signal is good. */
  readonly when: "now" | "good";
  /** What starts it; `null` for nothing. */
  readonly trigger: {
    readonly on: "level" | "drive";
    readonly level: number | null;
    readonly edge: "rising" | "falling";
    readonly before: number;
  } | null;
}

/** Stretch from which the middle of a signal is told, in s. */
const stretch = 0.5;
/** Part of the signal's height that it must pass beyond the level (1). */
const hysteresisPart = 0.1;

/** Waits for the start of a capture, and cuts it out when its end is there. */
export class CaptureTaker {
  readonly #take: ReadTake;
  readonly #ring: SampleRing;
  readonly #samplingRate: number;
  /** Position of the channel that triggers. */
  readonly #channel: number;
  #from: number | null = null;
  #seen = 0;
  #isArmed: boolean;

  constructor(
    take: ReadTake,
    ring: SampleRing,
    samplingRate: number,
    channel: number,
  ) {
    this.#take = take;
    this.#ring = ring;
    this.#samplingRate = samplingRate;
    this.#channel = channel;
    this.#isArmed = take.when === "now";
    this.#seen = ring.end;
  }

  /** What is waited for, in words. */
  get waitingFor(): string {
    const { when, trigger } = this.#take;
    if (when === "good" && !this.#isArmed) return "good fringes";
    if (this.#from === null && trigger !== null) {
      return trigger.on === "drive"
        ? "the drive"
        : "the signal to pass its level";
    }
    return "its last sample";
  }

  /** The signal is good, or is not any more. */
  arm(isGood: boolean): void {
    if (this.#take.when === "now" || this.#from !== null) return;
    if (isGood && !this.#isArmed) this.#seen = this.#ring.end;
    this.#isArmed = isGood;
  }

  /** Samples came in: gives the first and the last of the capture once they are there. */
  look(): { from: number; to: number } | null {
    if (!this.#isArmed) return null;
    const length = Math.round(this.#take.duration * this.#samplingRate);
    const { start, end } = this.#ring;
    if (this.#from !== null && this.#from < start) this.#from = null;
    this.#from ??= this.#begin(length);
    if (this.#from === null || end < this.#from + length) return null;
    return { from: this.#from, to: this.#from + length };
  }

  #begin(length: number): number | null {
    const { trigger } = this.#take;
    const { start, end } = this.#ring;
    if (trigger === null) return Math.max(start, this.#seen);
    const before = Math.round(trigger.before * length);
    const first = Math.max(
      start,
      this.#seen - Math.round(stretch * this.#samplingRate),
    );
    const samples = this.#ring.copy(first, end)[this.#channel]!;
    const [low, high] = extremesOf(samples);
    const at = high > low
      ? findPassage(
        samples,
        trigger.level ?? (low + high) / 2,
        hysteresisPart * (high - low),
        trigger.edge,
        Math.max(this.#seen, start + before) - first,
      )
      : -1;
    if (at < 0) {
      this.#seen = Math.max(this.#seen, end);
      return null;
    }
    return first + at - before;
  }
}

/** Text that says how a capture was taken. */
export function takenHow({ trigger, when }: ReadTake): string {
  const good = when === "good" ? " once the fringes were good" : "";
  if (trigger === null) return `taken live${good}`;
  return `taken live${good}, started by the ${trigger.on} (${trigger.edge}${
    trigger.level === null ? "" : `, at ${trigger.level}`
  })`;
}

/** The channel that a trigger looks at. */
export function triggerChannel(
  channels: readonly Pick<Capture["channels"][number], "role">[],
  on: "level" | "drive",
): number {
  const at = channels.findIndex(({ role }) =>
    on === "level" ? role === "monitor signal" : role.startsWith("drive")
  );
  if (at >= 0) return at;
  if (on === "level") return 0;
  throw new RangeError(
    "Cannot start a capture by the drive as no channel carries it: say which one does in 'channels', or take 'level'",
  );
}
