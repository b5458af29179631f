import { optional } from "./option.ts";
import { quantityOption } from "./quantity_option.ts";
import {
  choiceOption,
  flagOption,
  groupOption,
  textOption,
  wholeNumberOption,
} from "./plain_options.ts";

/**
 * Phase index of the air that every measurement takes where none is given, and
 * that the simulator fills the room with. Benches stand in air: between 15 °C
 * and 30 °C and 950 hPa and 1050 hPa it lies within 3e-5 of this for red and near
 * infrared light (`airIndex` computes it), while a vacuum would be 27e-5 off.
 */
export const airRefractiveIndex = 1.00027;

const wavelength = quantityOption({
  doc: "Vacuum wavelength of the diode, in m.",
  unit: "m",
  least: 100e-9,
  most: 20e-6,
  customary: ["nm", "µm"],
  example: "650nm",
});

const angle = quantityOption({
  doc: "Angle between the beam and the velocity, in rad: 0 along the beam, " +
    "π/2 across it.",
  unit: "rad",
  least: -Math.PI / 2,
  most: Math.PI / 2,
  customary: ["deg"],
  example: "78deg",
});

/** A standard uncertainty that nobody stated: 0, and named as taken as exact. */
const exact = "0, the value is taken as exact";

const relative = (doc: string) =>
  quantityOption({ doc, unit: "1", least: 0, most: 1, example: "0.5%" });

const current = (doc: string) =>
  quantityOption({
    doc,
    unit: "A",
    least: -1,
    most: 1,
    customary: ["mA"],
    example: "40mA",
  });

const length = (doc: string, example: string) =>
  quantityOption({
    doc,
    unit: "m",
    above: 0,
    most: 100,
    customary: ["mm", "µm", "nm"],
    example,
  });

const lengthUncertainty = (doc: string, example: string) =>
  quantityOption({
    doc,
    unit: "m",
    least: 0,
    most: 100,
    customary: ["mm", "µm", "nm"],
    example,
  });

const frequency = (doc: string, example = "100Hz") =>
  quantityOption({ doc, unit: "Hz", above: 0, example });

/** The options of the bench, each described once. */
export const benchOptions = {
  wavelength,
  wavelengthStandardUncertainty: optional(
    quantityOption({
      doc: "Standard uncertainty of the wavelength, in m.",
      unit: "m",
      least: 0,
      most: 1e-6,
      customary: ["nm", "pm"],
      example: "2nm",
    }),
    0,
    exact,
  ),
  refractiveIndex: optional(
    quantityOption({
      doc: "Phase index of the air (1).",
      unit: "1",
      least: 1,
      most: 4,
      example: "1.00027",
    }),
    airRefractiveIndex,
    "1.00027, the air of a room",
  ),
  refractiveIndexStandardUncertainty: optional(
    relative("Standard uncertainty of the index (1)."),
    0,
    exact,
  ),
  angle: optional(angle, 0, "0, the speed along the beam"),
  angleStandardUncertainty: optional(
    quantityOption({
      doc: "Standard uncertainty of the angle, in rad.",
      unit: "rad",
      least: 0,
      most: 0.35,
      customary: ["deg"],
      example: "0.5deg",
    }),
    0,
    exact,
  ),
  clockRelativeStandardUncertainty: optional(
    relative("Relative standard uncertainty of the digitiser's clock (1)."),
    3e-5,
    "3e-5",
  ),
  currentPerVoltage: optional(
    quantityOption({
      doc: "Current per voltage of a drive channel in V, in A/V.",
      unit: "A/V",
      least: -1,
      most: 1,
      customary: ["mA/V"],
      example: "10mA/V",
    }),
    null,
    "none, the drive channel is in A",
  ),
  currentOffset: optional(
    current("Current at a drive voltage of 0, in A."),
    0,
  ),
  samplingRate: frequency("Samples per second, in Hz.", "200kHz"),
  couplingCorner: optional(
    frequency(
      "Corner of the coupling capacitor in front of the recorder, in Hz; " +
        "`null` for a recording that is coupled with DC.",
      "2Hz",
    ),
    null,
    "none, coupled with DC",
  ),
  mainsFrequency: quantityOption({
    doc: "Mains frequency, in Hz.",
    unit: "Hz",
    least: 1,
    most: 1000,
    example: "50Hz",
  }),
  tuningCoefficient: quantityOption({
    doc: "Tuning of the diode, in m/A.",
    unit: "m/A",
    least: 1e-10,
    most: 1e-6,
    customary: ["pm/mA", "nm/mA"],
    example: "8.3pm/mA",
  }),
  radius: length("Radius at which the beam meets the disc, in m.", "50mm"),
  radiusStandardUncertainty: optional(
    lengthUncertainty("Standard uncertainty of the radius, in m.", "0.2mm"),
    0,
    exact,
  ),
  distance: length("Distance of the target, in m.", "120mm"),
  feedbackParameter: quantityOption({
    doc: "Feedback parameter C (1).",
    unit: "1",
    least: 0,
    example: "0.7",
  }),
  linewidthEnhancementFactor: optional(
    quantityOption({
      doc: "Linewidth enhancement factor α (1).",
      unit: "1",
      least: 0,
      example: "5",
    }),
    5,
  ),
} as const;

/** Makers of descriptions that come back under several names. */
export const optionOf = {
  /** A current of the diode, in A. */
  current,
  /** A positive length, in m. */
  length,
  /** A standard uncertainty of a length, in m. */
  lengthUncertainty,
  /** A positive frequency, in Hz. */
  frequency,
  /** A part from 0 to 1, or a relative uncertainty. */
  relative,
  /** A positive time, in s. */
  time: (doc: string, example = "10ms") =>
    quantityOption({ doc, unit: "s", above: 0, example }),
  /** A positive number of a unit. */
  positive: (doc: string, unit = "1", example = "") =>
    quantityOption({ doc, unit, above: 0, example }),
  /** A number of a unit that is not negative. */
  notNegative: (doc: string, unit = "1", example = "") =>
    quantityOption({ doc, unit, least: 0, example }),
  /** Any finite number of a unit. */
  finite: (doc: string, unit = "1", example = "") =>
    quantityOption({ doc, unit, example }),
  /** A band of frequencies, in Hz. */
  band: (doc: string) =>
    groupOption(doc, {
      low: quantityOption({
        doc: "Lower end, in Hz.",
        unit: "Hz",
        least: 0,
        example: "100Hz",
      }),
      high: frequency("Upper end, in Hz.", "10kHz"),
    }),
  /** A number of a unit between two, both of them allowed. */
  between: (
    doc: string,
    least: number,
    most: number,
    unit = "1",
    example = "",
  ) => quantityOption({ doc, unit, least, most, example }),
  choice: choiceOption,
  flag: flagOption,
  text: textOption,
  whole: wholeNumberOption,
} as const;

/** A drive waveform that is known but was not captured. */
export const statedDriveOptions = {
  shape: choiceOption("Shape of the drive.", ["triangle", "sawtooth", "sine"]),
  frequency: frequency("Ramps (periods) per second, in Hz.", "10Hz"),
  low: current("Lowest current, in A."),
  high: current("Highest current, in A."),
  start: optional(
    quantityOption({
      doc: "Part of the period already over at the first sample (1).",
      unit: "1",
    }),
    undefined,
    "found from the power in the monitor signal",
  ),
} as const;

/** A value with its standard uncertainty, in the unit of a description. */
export const tuningOptions = {
  value: benchOptions.tuningCoefficient,
  standardUncertainty: optional(
    quantityOption({
      doc: "Standard uncertainty of the tuning, in m/A.",
      unit: "m/A",
      least: 0,
      most: 1e-6,
      customary: ["pm/mA", "nm/mA"],
      example: "0.04pm/mA",
    }),
    0,
    exact,
  ),
} as const;
