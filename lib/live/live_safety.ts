import { estimateLaserSafety, type LaserClass } from "../bench/mod.ts";
import {
  benchOptions,
  type Option,
  optional,
  optionOf,
  quantityOption,
  type ReadOptions,
} from "../options/mod.ts";

/** What is known of the diode in front of the person. */
export interface LiveDiode {
  /** Vacuum wavelength, in m. */
  wavelength: number | string;
  /** Greatest current that the diode is rated for, in A. */
  ratedCurrent: number | string;
  /** Light power at the rated current, in W. */
  ratedPower: number | string;
  /**
   * Threshold current, in A: the power at a current is taken to rise from here.
   *
   * @default {0, from which the class is estimated too high, never too low}
   */
  thresholdCurrent?: number | string;
  /**
   * Current that is set, in A, where no channel carries it: the greatest of a
   * ramp.
   *
   * @default {none}
   */
  current?: number | string | null;
}

export const liveDiodeSpec = {
  wavelength: benchOptions.wavelength,
  ratedCurrent: optionOf.between(
    "Greatest current that the diode is rated for, in A.",
    1e-4,
    1,
    "A",
    "45mA",
  ),
  ratedPower: quantityOption({
    doc: "Light power at the rated current, in W.",
    unit: "W",
    least: 0,
    most: 10,
    customary: ["mW"],
    example: "5mW",
  }),
  thresholdCurrent: optional(
    optionOf.between("Threshold current, in A.", 0, 1, "A", "25mA"),
    0,
    "0, from which the class is estimated too high, never too low",
  ),
  current: optional(
    optionOf.between("Current that is set, in A.", 0, 1, "A", "40mA"),
    null,
    "none",
  ),
} satisfies Record<keyof LiveDiode, Option>;

/** {@linkcode LiveDiode} as read. */
export type ReadLiveDiode = ReadOptions<typeof liveDiodeSpec>;

/** What the live view says of safety. */
export interface LiveSafety {
  /** Greatest current now, in A; `NaN` where nobody said it. */
  readonly current: number;
  /** Rated current, in A. */
  readonly ratedCurrent: number;
  /** Estimated class at the current; at the rated one where it is not known. */
  readonly laserClass: LaserClass;
  /** Estimated class at the rated current. */
  readonly ratedClass: LaserClass;
  /**
   * Whether somebody may be told to turn the current up: it is known, below the
   * rated one, and the class stays the same up to there.
   */
  readonly mayRise: boolean;
  /** Whether the current is above what the diode is rated for. */
  readonly isOver: boolean;
  /** The sentence that every estimate carries. */
  readonly statement: string;
}

/** From this part of the rated current on nobody is told to turn up (1). */
const nearRated = 0.98;

/**
 * Estimates the class for the diode and the current at hand.
 *
 * @param diode The diode.
 * @param measured Highest current of the drive channel, in A; `NaN` for none.
 * @returns What the view says.
 */
export function judgeSafety(
  diode: ReadLiveDiode,
  measured: number,
): LiveSafety {
  const { wavelength, ratedCurrent, ratedPower, thresholdCurrent } = diode;
  const current = Number.isFinite(measured) && diode.current !== null
    ? Math.max(measured, diode.current)
    : Number.isFinite(measured)
    ? measured
    : diode.current ?? NaN;
  const rise = ratedPower / Math.max(1e-6, ratedCurrent - thresholdCurrent);
  const powerAt = (value: number) =>
    Math.min(10, Math.max(0, value - thresholdCurrent) * rise);
  const classAt = (power: number) => estimateLaserSafety({ wavelength, power });
  const rated = classAt(ratedPower);
  const laserClass = Number.isFinite(current)
    ? classAt(powerAt(current)).laserClass
    : rated.laserClass;
  return {
    current,
    ratedCurrent,
    laserClass,
    ratedClass: rated.laserClass,
    mayRise: current < nearRated * ratedCurrent &&
      laserClass === rated.laserClass,
    isOver: current > 1.005 * ratedCurrent,
    statement: rated.statement,
  };
}
