import {
  groupOption,
  handedOption,
  type Option,
  optional,
  optionOf,
  type ReadOptions,
} from "../options/mod.ts";
import type { PresenceCalibration } from "../level/mod.ts";
import type { DisplacementTrackerOptions } from "../motion/mod.ts";
import type { MeasureDistanceOptions } from "../range/mod.ts";
import type { MeasureSpeedOptions } from "../speed/mod.ts";
import { type LiveDiode, liveDiodeSpec } from "./live_safety.ts";
import { type ProximityOptions, proximitySpec } from "./threshold.ts";
import { type TriggerOptions, triggerSpec } from "./trigger.ts";

/** A capture that is to be taken while a source is watched. */
export interface TakeOptions {
  /** Length of the capture, in s. @default {0.2} */
  duration?: number | string;
  /**
   * When: as soon as the fringes are good, or at once.
   *
   * @default {"good"}
   */
  when?: "good" | "now";
  /**
   * What starts it; `null` for nothing.
   *
   * @default {null}
   */
  trigger?: TriggerOptions | null;
}

export const takeSpec = {
  duration: optional(
    optionOf.time("Length of the capture, in s.", "0.2s"),
    0.2,
  ),
  when: optional(
    optionOf.choice(
      "When: as soon as the fringes are good, or at once.",
      ["good", "now"],
    ),
    "good",
  ),
  trigger: optional(groupOption("What starts it.", triggerSpec), null),
} satisfies Record<keyof TakeOptions, Option>;

/** What is watched, kept and measured. */
export interface LiveOptions {
  /** Samples that are kept, in s. @default {10} */
  keep?: number | string;
  /**
   * Stretch that the meter looks at, in s; at most 32 768 samples of it.
   *
   * @default {0.25}
   */
  window?: number | string;
  /**
   * Samples after which the watch ends, in s; `null` for no end.
   *
   * @default {null}
   */
  duration?: number | string | null;
  /**
   * WAV file to which all is recorded; `null` for none.
   *
   * @default {null}
   */
  record?: string | null;
  /**
   * A capture to be taken; the watch ends with it. `null` for none.
   *
   * @default {null}
   */
  take?: TakeOptions | null;
  /**
   * What is known of the diode, for the class and the rated current.
   *
   * @default {null}
   */
  diode?: LiveDiode | null;
  /**
   * Follows the displacement: options of `createDisplacementTracker`.
   *
   * @default {null}
   */
  displacement?: DisplacementTrackerOptions | null;
  /**
   * Measures the speed again and again: options of `measureSpeed`.
   *
   * @default {null}
   */
  speed?: MeasureSpeedOptions | null;
  /**
   * Measures the distance by the ramps, again and again: options of
   * `measureDistance`.
   *
   * @default {null}
   */
  distance?: MeasureDistanceOptions | null;
  /**
   * Tells whether something is near: two values, or what `calibratePresence`
   * found.
   *
   * @default {null}
   */
  proximity?: ProximityOptions | PresenceCalibration | null;
}

const handed = <T>(doc: string, of: string) =>
  optional(
    handedOption<T>(
      doc,
      `the options of ${of}`,
      (value) => typeof value === "object" && value !== null,
    ),
    null,
  );

/** Two values as read, or a calibration as it is. */
export type ReadProximity =
  | ReadOptions<typeof proximitySpec>
  | PresenceCalibration;

const twoValues = groupOption(
  "Tells whether something is near.",
  proximitySpec,
);

const proximityOption: Option<ReadProximity> = {
  ...twoValues,
  fallback: undefined,
  read: (value, name, task) =>
    (value as PresenceCalibration | null)?.kind === "level.threshold"
      ? value as PresenceCalibration
      : twoValues.read(value, name, task),
};

export const liveSpec = {
  keep: optional(
    optionOf.between("Samples that are kept, in s.", 0.01, 600, "s", "10s"),
    10,
  ),
  window: optional(
    optionOf.between(
      "Stretch that the meter looks at, in s.",
      0.001,
      60,
      "s",
      "0.25s",
    ),
    0.25,
  ),
  duration: optional(
    optionOf.time("Samples after which the watch ends, in s.", "10s"),
    null,
    "no end",
  ),
  record: optional(
    optionOf.text("WAV file to which all is recorded.", "run.wav"),
    null,
  ),
  take: optional(groupOption("A capture to be taken.", takeSpec), null),
  diode: optional(
    groupOption("What is known of the diode.", liveDiodeSpec),
    null,
  ),
  displacement: handed<DisplacementTrackerOptions>(
    "Follows the displacement.",
    "createDisplacementTracker",
  ),
  speed: handed<MeasureSpeedOptions>(
    "Measures the speed again and again.",
    "measureSpeed",
  ),
  distance: handed<MeasureDistanceOptions>(
    "Measures the distance by the ramps, again and again.",
    "measureDistance",
  ),
  proximity: optional(proximityOption, null),
} satisfies Record<keyof LiveOptions, Option>;

/** {@linkcode LiveOptions} as read. */
export type ReadLiveOptions = ReadOptions<typeof liveSpec>;
