import {
  benchOptions,
  choiceOption,
  handedOption,
  type Option,
  optional,
  optionOf,
  quantityOption,
  readOptions,
} from "../../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../../result/mod.ts";
import {
  apertureFraction,
  type BeamConvention,
  beamConventions,
  beamDiameters,
  type SafetyBeam,
  toSquaredConvention,
} from "./beam.ts";
import { findCautions } from "./cautions.ts";
import {
  checkWavelength,
  type ClassLimits,
  classLimits,
  exposureLimit,
  isVisible,
  pupilArea,
  pupilDiameter,
} from "./limits.ts";

/** Names of the laser classes. */
export type LaserClass = "1" | "1M" | "2" | "2M" | "3R" | "3B" | "4";

/** The sentence that every estimate carries. */
export const safetyStatement =
  "estimate for teaching; the label, local rules and your laser safety officer decide";

/** Options of {@linkcode estimateLaserSafety}. */
export interface LaserSafetyOptions {
  /** Vacuum wavelength, in m, 400 to 1050 nm. */
  wavelength: number | string;
  /**
   * Greatest light power that the diode can give at this bench, in W: at the
   * greatest current of the ramp, not at its middle.
   */
  power: number | string;
  /**
   * Relative standard uncertainty of the power (1).
   *
   * @default {0.1}
   */
  powerRelativeStandardUncertainty?: number | string;
  /**
   * Full angle of divergence in rad, or both axes of a bare diode; 0 for a
   * collimated beam that does not widen.
   *
   * @default {0}
   */
  divergence?: number | readonly [number, number];
  /**
   * Beam diameter at the exit, in m.
   *
   * @default {3e-3}
   */
  beamDiameter?: number | string;
  /**
   * How divergence and diameter were measured.
   *
   * @default {"1/e²"}
   */
  convention?: BeamConvention;
  /**
   * Distance of the eye for the irradiance, in m.
   *
   * @default {0.1}
   */
  eyeDistance?: number | string;
  /**
   * Length of an accidental exposure, in s.
   *
   * @default {0.25 for visible light (blink reflex), 100 for near infrared}
   */
  exposureTime?: number | string;
}

export const safetySpec = {
  wavelength: benchOptions.wavelength,
  power: quantityOption({
    doc: "Power of the beam, in W.",
    unit: "W",
    least: 0,
    most: 10,
    customary: ["mW"],
    example: "3mW",
  }),
  powerRelativeStandardUncertainty: optional(
    optionOf.notNegative("Relative standard uncertainty of the power (1)."),
    0.1,
  ),
  divergence: optional(
    handedOption<number | readonly [number, number]>(
      "Full divergence of the beam, in rad.",
      "a number of rad, or one for each axis",
      (value) =>
        typeof value === "number" ||
        Array.isArray(value) && value.length === 2 &&
          value.every((each) => typeof each === "number"),
    ),
    0,
  ),
  beamDiameter: optional(
    optionOf.lengthUncertainty("Diameter of the beam, in m.", "3mm"),
    3e-3,
  ),
  convention: optional(
    choiceOption("Where diameter and divergence are taken.", beamConventions),
    "1/e²",
  ),
  eyeDistance: optional(
    optionOf.lengthUncertainty("Distance of the eye, in m.", "100mm"),
    0.1,
  ),
  exposureTime: optional(
    optionOf.time("Time of the exposure, in s.", "0.25s"),
    undefined,
    "0.25 s for visible light, else 100 s",
  ),
} satisfies Record<keyof LaserSafetyOptions, Option>;

/** An estimate of how harmful a beam is to the eye. */
export interface LaserSafetyEstimate extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "bench.laserSafety";
  /** What this is not: the sentence that every estimate carries. */
  readonly statement: string;
  /** Edition of the standard whose limits are used. */
  readonly edition: string;
  /** Estimated class of the beam as it is. */
  readonly laserClass: LaserClass;
  /** Class once a lens, or a loupe, collects all of the light. */
  readonly collectedClass: LaserClass;
  /** Largest accessible powers of the classes, in W. */
  readonly limits: ClassLimits;
  /** Power through 7 mm at 100 mm: the naked eye, in W. */
  readonly unaidedEmission: Quantity;
  /** Power through 50 mm at 2 m: an eye behind a telescope, in W. */
  readonly aidedEmission: Quantity;
  /** Irradiance that counts at the eye: power over beam or pupil, in W/m². */
  readonly irradiance: Quantity;
  /** Largest harmless irradiance for the accidental exposure, in W/m². */
  readonly exposureLimit: number;
  /** Irradiance over limit (1). */
  readonly exposureRatio: number;
  /** Distance within which the limit is passed, in m; 0 where nowhere. */
  readonly hazardDistance: Quantity;
  /** The same for someone who stares for 100 s, in m. */
  readonly staringHazardDistance: Quantity;
  /** Whether the eye sees the light and blinks. */
  readonly visible: boolean;
  /** Cautions in words, most important first. */
  readonly cautions: readonly string[];
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Exposure time used, in s. */
    readonly exposureTime: number;
    /** Distances of the curve, in m. */
    readonly distances: Float64Array;
    /** Irradiance that counts at these, in W/m². */
    readonly irradiances: Float64Array;
  };
}

/**
 * Estimates the laser class, the irradiance at the eye and the hazard distance
 * of a continuous beam from a small source. Irradiance and hazard distance go by
 * one definition: the power over the area of the beam at 1/e, at least that of the
 * 7 mm pupil. Where the beam is wider than the pupil the hazard distance is
 * (sqrt(4P/(πE)) - a)/φ, with diameter a and divergence φ at 1/e; a beam whose
 * power is harmless inside the pupil has none.
 *
 * @param options Wavelength, greatest power, beam.
 * @returns The estimate. It carries the sentence that the label, local rules and
 * the laser safety officer decide.
 * @throws {RangeError} If the wavelength lies outside of 400 to 1050 nm, or a
 * value is negative or not finite.
 *
 * Source: IEC 60825-1:2014 (edition 3) by secondary tables; ICNIRP 2013.
 *
 * @example
 * ```ts
 * import { estimateLaserSafety } from "fringebook";
 * import { expect } from "vitest";
 *
 * const red = estimateLaserSafety({ wavelength: 650e-9, power: 3e-3 });
 * expect(red.laserClass).toBe("3R");
 * expect(red.statement).toContain("your laser safety officer decide");
 * ```
 */
export function estimateLaserSafety(
  options: LaserSafetyOptions,
): LaserSafetyEstimate & Shown {
  const read = readOptions(safetySpec, options, "estimate the laser safety");
  const {
    wavelength,
    power,
    powerRelativeStandardUncertainty,
    divergence,
    beamDiameter,
    convention,
    eyeDistance,
  } = read;
  checkWavelength(wavelength);
  const visible = isVisible(wavelength);
  const { exposureTime = visible ? 0.25 : 100 } = read;
  const angles = typeof divergence === "number"
    ? [divergence, divergence] as const
    : divergence;
  requireNotNegative("power", power);
  requireNotNegative(
    "powerRelativeStandardUncertainty",
    powerRelativeStandardUncertainty,
  );
  requireNotNegative("divergence", angles[0]);
  requireNotNegative("divergence", angles[1]);
  requireNotNegative("beamDiameter", beamDiameter);
  requireNotNegative("eyeDistance", eyeDistance);
  const factor = toSquaredConvention(convention);
  const beam: SafetyBeam = {
    diameter: beamDiameter * factor,
    divergence: [angles[0] * factor, angles[1] * factor],
  };
  const through = (aperture: number, distance: number) =>
    power * apertureFraction(beamDiameters(beam, distance), aperture);
  const unaided = through(pupilDiameter, 0.1);
  const aided = Math.max(unaided, through(50e-3, 2));
  const limits = classLimits(wavelength);
  const laserClass = findClass(unaided, aided, limits);
  const limit = exposureLimit({ wavelength, exposureTime });
  const staring = exposureLimit({
    wavelength,
    exposureTime: Math.max(100, exposureTime),
  });
  const irradiance = countedIrradiance(beam, power, eyeDistance);
  const relative = (value: number, unit: string) =>
    quantity(value, value * powerRelativeStandardUncertainty, unit);
  const distanceFor = (level: number) => {
    const at = (p: number) => hazardDistance(beam, p, level);
    const up = at(power * (1 + powerRelativeStandardUncertainty));
    const value = at(power);
    const spread = Number.isFinite(up) ? up - value : NaN;
    return quantity(value, spread, "m");
  };
  const distances = Float64Array.from(
    { length: 200 },
    (_, i) => 0.01 * 1000 ** (i / 199),
  );
  const collectedClass = findClass(power, power, limits);
  const cautions = findCautions({
    laserClass,
    visible,
    collimated: Math.max(...angles) < 0.02,
    collectedClass,
  });
  return createResult<LaserSafetyEstimate>({
    kind: "bench.laserSafety",
    statement: safetyStatement,
    edition: "IEC 60825-1:2014 (edition 3), continuous light, C6 = 1",
    laserClass,
    collectedClass,
    limits,
    unaidedEmission: relative(unaided, "W"),
    aidedEmission: relative(aided, "W"),
    irradiance: relative(irradiance, "W/m²"),
    exposureLimit: limit,
    exposureRatio: irradiance / limit,
    hazardDistance: distanceFor(limit),
    staringHazardDistance: distanceFor(staring),
    visible,
    cautions,
    warnings: findWarnings(
      power,
      powerRelativeStandardUncertainty,
      limits,
      laserClass,
      {
        unaided,
        aided,
      },
    ),
    provenance: provenance({
      method: "estimateLaserSafety",
      options: {
        wavelength,
        power,
        powerRelativeStandardUncertainty,
        divergence: [...angles],
        beamDiameter,
        convention,
        eyeDistance,
        exposureTime,
      },
      sources: ["IEC 60825-1:2014", "ICNIRP 2013, Health Phys. 105, 271"],
    }),
    diagnostics: {
      exposureTime,
      distances,
      irradiances: distances.map((distance) =>
        countedIrradiance(beam, power, distance)
      ),
    },
  });
}

function findClass(
  unaided: number,
  aided: number,
  limits: ClassLimits,
): LaserClass {
  if (aided <= limits.class1) return "1";
  if (unaided <= limits.class1 && aided <= limits.class3B) return "1M";
  if (limits.class2 !== null) {
    if (aided <= limits.class2) return "2";
    if (unaided <= limits.class2 && aided <= limits.class3B) return "2M";
  }
  if (aided <= limits.class3R) return "3R";
  return aided <= limits.class3B ? "3B" : "4";
}

/**
 * Distance at which the irradiance that counts falls to a limit, in m: 0 where it
 * is nowhere above, ∞ where it stays above. With all of the beam inside the pupil
 * the power decides alone; else (a + φx r)(a + φy r) = 4P/(πE), a quadratic in r,
 * for a round beam (sqrt(4P/(πE)) - a)/φ.
 */
function hazardDistance(
  beam: SafetyBeam,
  power: number,
  limit: number,
): number {
  if (power <= limit * pupilArea) return 0;
  const diameter = beam.diameter / Math.SQRT2;
  const [x, y] = beam.divergence.map(spreadAtE) as [number, number];
  const area = 4 * power / (Math.PI * limit);
  const c = diameter * diameter - area;
  if (c >= 0) return 0;
  const b = diameter * (x + y);
  const a = x * y;
  if (a === 0) return b === 0 ? Infinity : -c / b;
  return (-b + Math.sqrt(b * b - 4 * a * c)) / (2 * a);
}

/** How fast the diameter at 1/e grows with distance, from the angle at 1/e². */
function spreadAtE(angle: number): number {
  return 2 * Math.tan(Math.min(angle, 3) / 2) / Math.SQRT2;
}

/**
 * The irradiance that counts at a distance, in W/m²: the power over the area of
 * the beam at 1/e, which is the irradiance on its axis, but over no less than the
 * area of the pupil, over which the limits are averaged (IEC 60825-1:2014,
 * limiting aperture 7 mm). Never below the true mean over the pupil.
 */
function countedIrradiance(
  beam: SafetyBeam,
  power: number,
  distance: number,
): number {
  const [x, y] = beam.divergence.map((angle) =>
    beam.diameter / Math.SQRT2 + spreadAtE(angle) * distance
  ) as [number, number];
  return power / Math.max(pupilArea, Math.PI / 4 * x * y);
}

function findWarnings(
  power: number,
  uncertainty: number,
  limits: ClassLimits,
  laserClass: LaserClass,
  emission: { unaided: number; aided: number },
): Warning[] {
  const warnings = [
    warn("estimate", `This is an ${safetyStatement}`, "note"),
  ];
  const collected = findClass(power, power, limits);
  if (collected !== laserClass) {
    warnings.push(warn(
      "collected-class",
      `Class ${laserClass} holds only while the light spreads as stated: behind a lens or a loupe that collects it, it is Class ${collected}. Act as for ${collected}`,
    ));
  }
  const scale = 1 + 2 * uncertainty;
  const higher = findClass(
    emission.unaided * scale,
    emission.aided * scale,
    limits,
  );
  if (higher !== laserClass) {
    warnings.push(warn(
      "class-border",
      `The power of ${(power * 1e3).toPrecision(3)} mW is uncertain by ${
        (200 * uncertainty).toPrecision(2)
      } % (k = 2), so that the class may be ${higher}: act as for ${higher}`,
    ));
  }
  return warnings;
}

function requireNotNegative(name: string, value: number): void {
  if (!(value >= 0 && Number.isFinite(value))) {
    throw new RangeError(
      `Cannot estimate laser safety as '${name}' must be a number that is not negative: current value is ${value}`,
    );
  }
}
