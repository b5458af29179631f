import { type Option, optional, optionOf } from "../options/mod.ts";

/** Options of a watch for something near. */
export interface ProximityOptions {
  /**
   * What tells that something is near: the level of the monitor signal, or the
   * height of the fringes.
   *
   * @default {"level"}
   */
  by?: "level" | "fringes";
  /** At this and above something is near, in the monitor's unit. */
  near: number;
  /**
   * At this and below it is gone again, in the monitor's unit; between the two
   * nothing changes.
   */
  far: number;
}

export const proximitySpec = {
  by: optional(
    optionOf.choice("What tells that something is near.", [
      "level",
      "fringes",
    ]),
    "level",
  ),
  near: optionOf.finite("At this and above something is near."),
  far: optionOf.finite("At this and below it is gone again."),
} satisfies Record<keyof ProximityOptions, Option>;

/** One change of what a threshold tells. */
export interface ThresholdEvent {
  /** Time since the start, in s. */
  readonly time: number;
  /** Whether something is near from here on. */
  readonly near: boolean;
}

/** Most changes that are kept. */
const mostEvents = 1000;

/** A threshold with hysteresis: a level that trembles about it changes nothing. */
export class Threshold {
  readonly #near: number;
  readonly #far: number;
  #isNear: boolean | null = null;
  /** Changes so far, the last 1000 of them. */
  readonly events: ThresholdEvent[] = [];

  /**
   * @param near At this and above something is near.
   * @param far At this and below it is gone.
   * @throws {RangeError} If `far` is not below `near`.
   */
  constructor(near: number, far: number) {
    if (!(far < near)) {
      throw new RangeError(
        `Cannot watch for something near as 'far' must be below 'near': current values are ${far} and ${near}`,
      );
    }
    this.#near = near;
    this.#far = far;
  }

  /** Whether something is near; `null` until one of the two was passed. */
  get isNear(): boolean | null {
    return this.#isNear;
  }

  /** Takes a value in. */
  push(time: number, value: number): void {
    const next = value >= this.#near
      ? true
      : value <= this.#far
      ? false
      : this.#isNear;
    if (next === this.#isNear || next === null) return;
    this.#isNear = next;
    this.events.push({ time, near: next });
    if (this.events.length > mostEvents) this.events.shift();
  }
}
