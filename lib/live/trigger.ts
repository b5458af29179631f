import {
  choiceOption,
  type Option,
  optional,
  optionOf,
} from "../options/mod.ts";

/** What starts a capture. */
export interface TriggerOptions {
  /**
   * Channel that is looked at: the monitor signal, or the drive, of which each
   * passage starts a ramp.
   */
  on: "level" | "drive";
  /**
   * Level that is passed, in the channel's unit.
   *
   * @default {the middle of what came last}
   */
  level?: number | null;
  /** Which way it is passed. @default {"rising"} */
  edge?: "rising" | "falling";
  /**
   * Part of the capture that lies before the passage (1).
   *
   * @default {0.1}
   */
  before?: number | string;
}

export const triggerSpec = {
  on: choiceOption("Channel that is looked at.", ["level", "drive"]),
  level: optional(
    optionOf.finite("Level that is passed, in the channel's unit."),
    null,
    "the middle of what came last",
  ),
  edge: optional(
    choiceOption("Which way it is passed.", ["rising", "falling"]),
    "rising",
  ),
  before: optional(
    optionOf.relative("Part of the capture that lies before the passage (1)."),
    0.1,
  ),
} satisfies Record<keyof TriggerOptions, Option>;

/**
 * The first sample at which a level is passed, after the signal was clearly on
 * its other side: noise about the level passes nothing.
 *
 * @param samples The samples.
 * @param level The level, in their unit.
 * @param hysteresis How far the signal must have been on the other side.
 * @param edge Which way.
 * @param from First sample that may be it.
 * @returns Its index; -1 for none.
 */
export function findPassage(
  samples: Float64Array,
  level: number,
  hysteresis: number,
  edge: "rising" | "falling",
  from = 0,
): number {
  const sign = edge === "rising" ? 1 : -1;
  let isArmed = false;
  for (let i = 0; i < samples.length; i++) {
    const above = sign * (samples[i]! - level);
    if (above < -hysteresis) isArmed = true;
    else if (isArmed && above >= 0) {
      if (i >= from) return i;
      isArmed = false;
    }
  }
  return -1;
}
