import type { ConditioningOptions } from "./conditioning.ts";

/** Options shared by the measurements of motion. */
export interface MotionOptions extends ConditioningOptions {
  /** Vacuum wavelength of the diode, in m. */
  wavelength: number;
  /**
   * Standard uncertainty of the wavelength, in m.
   *
   * @default {0}
   */
  wavelengthStandardUncertainty?: number;
  /**
   * Phase index of the air (1).
   *
   * @default {1}
   */
  refractiveIndex?: number;
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

/** {@linkcode MotionOptions} with the defaults filled in. */
export type FilledMotionOptions = Required<MotionOptions>;

/** Fills in the defaults and checks the values. */
export function fillMotionOptions(
  options: MotionOptions,
  what: string,
): FilledMotionOptions {
  const {
    wavelength,
    wavelengthStandardUncertainty = 0,
    refractiveIndex = 1,
    polarity = "auto",
    driveSense = null,
    couplingCorner = null,
    removePowerModulation = true,
    mainsFrequency = null,
    flattenFading = true,
  } = options;
  const positive = (name: string, value: number, unit: string) => {
    if (value > 0 && Number.isFinite(value)) return;
    throw new RangeError(
      `Cannot ${what} as '${name}' must be a positive number${unit}: current value is ${value}`,
    );
  };
  positive("wavelength", wavelength, " of m");
  positive("refractiveIndex", refractiveIndex, "");
  if (couplingCorner !== null) {
    positive("couplingCorner", couplingCorner, " of Hz");
  }
  if (!(wavelengthStandardUncertainty >= 0)) {
    throw new RangeError(
      `Cannot ${what} as 'wavelengthStandardUncertainty' must not be negative: current value is ${wavelengthStandardUncertainty}`,
    );
  }
  if (polarity !== 1 && polarity !== -1 && polarity !== "auto") {
    throw new RangeError(
      `Cannot ${what} as 'polarity' must be 1, -1 or "auto": current value is ${polarity}`,
    );
  }
  return {
    wavelength,
    wavelengthStandardUncertainty,
    refractiveIndex,
    polarity,
    driveSense,
    couplingCorner,
    removePowerModulation,
    mainsFrequency,
    flattenFading,
  };
}
