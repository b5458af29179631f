import { type Quantity, quantity } from "../result/mod.ts";
import { dopplerSensitivity, requireOblique } from "./doppler.ts";
import { lineCoverageFactor } from "./doppler_line.ts";

/** What a speed is made from, with how sure each number is. */
export interface SpeedInputs {
  /** Vacuum wavelength of the diode, in m. */
  wavelength: number;
  /**
   * Standard uncertainty of the wavelength, in m.
   *
   * @default {0}
   */
  wavelengthStandardUncertainty?: number;
  /**
   * Angle between beam and velocity, in rad: 0 along the beam, π/2 across it.
   * With the default the speed is the one along the beam.
   *
   * @default {0}
   */
  angle?: number;
  /**
   * Standard uncertainty of the angle, in rad.
   *
   * @default {0}
   */
  angleStandardUncertainty?: number;
  /**
   * Phase index of the air (1).
   *
   * @default {1}
   */
  refractiveIndex?: number;
  /**
   * Standard uncertainty of the index (1).
   *
   * @default {0}
   */
  refractiveIndexStandardUncertainty?: number;
  /**
   * Relative standard uncertainty of the digitiser's clock (1); ± 50 parts in a
   * million taken as rectangular is common practice, no source.
   *
   * @default {3e-5}
   */
  clockRelativeStandardUncertainty?: number;
}

/** One row of an uncertainty budget. */
export interface BudgetRow {
  /** What it is. */
  readonly name: string;
  /** Its estimate, in `unit`. */
  readonly value: number;
  /** Its standard uncertainty, in `unit`. */
  readonly standardUncertainty: number;
  /** SI unit of value and uncertainty. */
  readonly unit: string;
  /** Change of the result per change of this, in result unit / `unit`. */
  readonly sensitivity: number;
  /** |sensitivity| × standard uncertainty, in the unit of the result. */
  readonly contribution: number;
  /** Its share of the result's variance (1). */
  readonly share: number;
}

/** Fills in the shares of a budget. */
export function budgetRows(
  rows: readonly Omit<BudgetRow, "contribution" | "share">[],
): BudgetRow[] {
  const contributions = rows.map((row) =>
    Math.abs(row.sensitivity * row.standardUncertainty)
  );
  const variance = contributions.reduce((sum, u) => sum + u * u, 0);
  return rows.map((row, i) => ({
    ...row,
    contribution: contributions[i]!,
    share: variance > 0 ? contributions[i]! ** 2 / variance : 0,
  }));
}

/**
 * Speed from a Doppler frequency, v = f λ / (2 n cos θ), with its budget
 * (JCGM 100:2008, eq. 10): ∂v/∂θ = v tan θ.
 *
 * @param frequency Doppler frequency with its uncertainty, in Hz.
 * @param inputs Wavelength, angle, index, clock.
 * @param task What is done, for the messages.
 * @returns Speed in m/s and the rows of its budget.
 * @throws {RangeError} If the beam stands across the motion or an uncertainty is
 * negative.
 */
export function speedWithBudget(
  frequency: Quantity,
  inputs: SpeedInputs,
  task: string,
): { speed: Quantity; budget: BudgetRow[] } {
  const {
    wavelength,
    wavelengthStandardUncertainty = 0,
    angle = 0,
    angleStandardUncertainty = 0,
    refractiveIndex = 1,
    refractiveIndexStandardUncertainty = 0,
    clockRelativeStandardUncertainty = 3e-5,
  } = inputs;
  for (
    const [name, value] of Object.entries({
      wavelengthStandardUncertainty,
      angleStandardUncertainty,
      refractiveIndexStandardUncertainty,
      clockRelativeStandardUncertainty,
    })
  ) {
    if (!(value >= 0 && Number.isFinite(value))) {
      throw new RangeError(
        `Cannot ${task} as '${name}' must be a finite number, not negative: current value is ${value}`,
      );
    }
  }
  const sensitivity = dopplerSensitivity(
    { wavelength, angle, refractiveIndex },
    task,
  );
  requireOblique(angle, task);
  const value = frequency.value / Math.abs(sensitivity);
  const budget = budgetRows([
    {
      name: "Doppler frequency",
      value: frequency.value,
      standardUncertainty: frequency.standardUncertainty,
      unit: "Hz",
      sensitivity: 1 / Math.abs(sensitivity),
    },
    {
      name: "wavelength",
      value: wavelength,
      standardUncertainty: wavelengthStandardUncertainty,
      unit: "m",
      sensitivity: value / wavelength,
    },
    {
      name: "angle",
      value: angle,
      standardUncertainty: angleStandardUncertainty,
      unit: "rad",
      sensitivity: value * Math.tan(angle),
    },
    {
      name: "refractive index",
      value: refractiveIndex,
      standardUncertainty: refractiveIndexStandardUncertainty,
      unit: "1",
      sensitivity: -value / refractiveIndex,
    },
    {
      name: "clock",
      value: 1,
      standardUncertainty: clockRelativeStandardUncertainty,
      unit: "1",
      sensitivity: value,
    },
  ]);
  const standardUncertainty = Math.hypot(
    ...budget.map(({ contribution }) => contribution),
  );
  return {
    speed: quantity(value, standardUncertainty, "m/s", {
      ...coverage(frequency, budget[0]!.contribution, standardUncertainty),
    }),
    budget,
  };
}

/** Welch–Satterthwaite (JCGM 100:2008, eq. G.2b): only the line is limited. */
function coverage(
  frequency: Quantity,
  part: number,
  whole: number,
): { degreesOfFreedom: number; coverageFactor: number } {
  const degreesOfFreedom = part > 0
    ? frequency.degreesOfFreedom * (whole / part) ** 4
    : Infinity;
  return {
    degreesOfFreedom,
    coverageFactor: lineCoverageFactor(degreesOfFreedom),
  };
}
