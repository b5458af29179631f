import {
  benchOptions,
  choiceOption,
  inputsOf,
  type Option,
  optional,
  type ReadOptions,
} from "../options/mod.ts";
import type { ResultInput } from "../result/mod.ts";
import { type ConditioningOptions, conditioningSpec } from "./conditioning.ts";

/** Options shared by the measurements of motion. */
export interface MotionOptions extends ConditioningOptions {
  /** Vacuum wavelength of the diode, in m, or a text such as `"650nm"`. */
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
   * Sign of the amplifier: 1 where more light gives more signal, -1 where it
   * gives less; "auto" takes it from the drive channel or the form of the
   * fringes, where these tell it, else 1.
   *
   * @default {"auto"}
   */
  polarity?: 1 | -1 | "auto";
  /**
   * Which way the target goes while the drive channel rises, where the bench
   * knows: used where the fringes are too symmetric to tell the way.
   *
   * @default {null}
   */
  driveSense?: "receding" | "approaching" | null;
}

/** The options of a motion; see {@linkcode readOptions}. */
export const motionSpec = {
  ...conditioningSpec,
  wavelength: benchOptions.wavelength,
  wavelengthStandardUncertainty: benchOptions.wavelengthStandardUncertainty,
  refractiveIndex: benchOptions.refractiveIndex,
  polarity: optional(
    choiceOption(
      "Sign of the amplifier: 1 where more light gives more signal, -1 where it gives less.",
      [1, -1, "auto"],
    ),
    "auto",
    "from the drive channel or the form of the fringes, else 1",
  ),
  driveSense: optional(
    choiceOption(
      "Which way the target goes while the drive channel rises, where the bench knows.",
      ["receding", "approaching"],
    ),
    null,
  ),
} satisfies Record<keyof MotionOptions, Option>;

/** {@linkcode MotionOptions} as read: SI numbers, defaults filled in. */
export type ReadMotionOptions = ReadOptions<typeof motionSpec>;

/** What a motion rests on beside its samples. */
export function motionInputs(
  given: MotionOptions,
  read: ReadMotionOptions,
): ResultInput[] {
  return inputsOf(motionSpec, given, read, ["wavelength", "refractiveIndex"]);
}
