import { defaultDiode, type DiodeModel } from "../laser/mod.ts";

/**
 * The bench of a teaching lab that does not exist: invented diodes, stage,
 * amplifiers and converters. `datasets/README.md` describes it in words.
 */

/** Phase index of the air in the room (1). */
export const airIndex = 1.00027;

/** The red diode that measures distances: label 650 nm. */
export const rangingDiode: DiodeModel = {
  ...defaultDiode,
  wavelength: 651.2e-9,
  tuning: 8.31e-9,
  // dλ/dI changes by ±2 % over the ramp of 10 mA.
  tuningCurvature: 1.66e-8,
  thermalTimeConstant: 0.1e-3,
  thermalFraction: 0.2,
  thresholdCurrent: 0.0242,
  slopeEfficiency: 0.32,
  linewidthEnhancementFactor: 4.2,
};

/** What its label says of the wavelength, in m. */
export const rangingLabel = { value: 650e-9, standardUncertainty: 2e-9 };

/** The near-infrared diode that watches moving targets: label 785 nm. */
export const motionDiode: DiodeModel = {
  ...defaultDiode,
  wavelength: 786.1e-9,
  tuning: 6.2e-9,
  thresholdCurrent: 0.0305,
  slopeEfficiency: 0.45,
  referenceCurrent: 0.045,
  linewidthEnhancementFactor: 4.8,
};

/** What its label says of the wavelength, in m. */
export const motionLabel = { value: 785e-9, standardUncertainty: 1.5e-9 };

/** The stage: its scale begins in front of the diode's facet. */
export const stage = {
  /** Optical way from facet to the zero of the scale, in m. */
  zeroOffset: 6.3e-3,
  /** Standard uncertainty of a reading, in m. */
  readingUncertainty: 0.2e-3,
};

/** The drive channel of the ranging bench shows this much too much (1). */
export const driveGainError = 0.0032;

/** Relative standard uncertainty of that channel by its data sheet (1). */
export const driveGainUncertainty = 0.005;

/** The ramp of the ranging bench: a triangle, in A and Hz. */
export const ramp = { low: 0.035, high: 0.045, frequency: 25 };
