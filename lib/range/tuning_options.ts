import type { Capture } from "../capture/mod.ts";
import {
  benchOptions,
  type Option,
  optional,
  optionOf,
} from "../options/mod.ts";
import { currentScaleOption } from "./current_scale.ts";
import {
  type MeasureStepsOptions,
  type RampSteps,
  stepsSpec,
} from "./steps.ts";

/** Steps at one known distance. */
export interface ReferencePoint {
  /** Capture taken at that distance, or the steps already counted on it. */
  readonly capture?: Capture;
  /** Steps already counted; used instead of `capture`. */
  readonly steps?: RampSteps;
  /** The known distance, in m, on the scale of the bench. */
  readonly distance: number;
  /** Standard uncertainty of that distance alone, in m. */
  readonly standardUncertainty: number;
}

/** Options of {@linkcode calibrateTuning}. */
export interface CalibrateTuningOptions extends MeasureStepsOptions {
  /** Vacuum wavelength at the mean current of the ramp, in m. */
  wavelength: number | string;
  /**
   * Standard uncertainty of the wavelength, in m.
   *
   * @default {0}
   */
  wavelengthStandardUncertainty?: number | string;
  /**
   * Phase index of the air (1).
   *
   * @default {1.00027, the air of a room}
   */
  refractiveIndex?: number | string;
  /**
   * Relative standard uncertainty of the scale of the ammeter, common to all
   * points (1).
   *
   * @default {0}
   */
  currentScaleRelativeStandardUncertainty?: number | string;
  /**
   * Relative standard uncertainty of the scale of the reference distances,
   * common to all points (1).
   *
   * @default {0}
   */
  distanceScaleRelativeStandardUncertainty?: number | string;
  /**
   * Standard uncertainty of the zero of the reference distances, common to all
   * points, in m.
   *
   * @default {0}
   */
  distanceOffsetStandardUncertainty?: number | string;
  /**
   * Whether the wavelength gets longer or shorter as the current rises: the counts
   * do not tell, and the direction of a moving target hangs on it.
   *
   * @default {"longer"}
   */
  wavelengthGets?: "longer" | "shorter";
}

export const calibrateSpec = {
  ...stepsSpec,
  wavelength: benchOptions.wavelength,
  wavelengthStandardUncertainty: benchOptions.wavelengthStandardUncertainty,
  refractiveIndex: benchOptions.refractiveIndex,
  currentScaleRelativeStandardUncertainty: currentScaleOption,
  distanceScaleRelativeStandardUncertainty: optional(
    optionOf.relative(
      "Relative standard uncertainty of the scale of the reference distances (1).",
    ),
    0,
  ),
  distanceOffsetStandardUncertainty: optional(
    optionOf.lengthUncertainty(
      "Standard uncertainty of the zero of the reference distances, in m.",
      "0.1mm",
    ),
    0,
  ),
  wavelengthGets: optional(
    optionOf.choice(
      "Whether the wavelength gets longer or shorter as the current rises.",
      ["longer", "shorter"],
    ),
    "longer",
  ),
} satisfies Record<keyof CalibrateTuningOptions, Option>;
