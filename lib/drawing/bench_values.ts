/**
 * The values of the bench that is drawn, and what follows from them: each drawing
 * and each page takes its numbers from here.
 */

/** Supply of the lead test, in V, and its series resistor, in Ω. */
export const leadTest = { supply: 2, resistor: 1000 } as const;

/**
 * Forward voltages at about 1 mA, in V: a silicon photodiode, a near-infrared and
 * a red laser diode (common practice, no source; band gaps of 1.1, 1.4 to 1.6 and
 * 1.9 eV).
 */
export const forwardVoltages = {
  "photodiode": [0.6, 0.7],
  "near-infrared laser": [1.2, 1.4],
  "red laser": [1.6, 1.8],
} as const;

/** Voltage across the series resistor where a junction conducts, in V. */
export function resistorVoltages(
  [low, high]: readonly [number, number],
): readonly [number, number] {
  return [leadTest.supply - high, leadTest.supply - low];
}

/** The amplifier that is drawn: rails in V, Ω, F, and the monitor current in A. */
export const amplifierParts = {
  rail: 9,
  feedbackResistance: 100e3,
  feedbackCapacitance: 4.7e-12,
  monitorCurrent: 50e-6,
  /** Fringes from peak to peak over the standing monitor current (1). */
  fringes: 0.01,
} as const;

/** Its output with the laser on, in V. */
export const outputVoltage = amplifierParts.monitorCurrent *
  amplifierParts.feedbackResistance;

/** Fringes at its output from peak to peak, in V. */
export const fringeVoltage = outputVoltage * amplifierParts.fringes;

/** −3 dB frequency of feedback resistor and capacitor, in Hz. */
export const feedbackCorner = 1 /
  (2 * Math.PI * amplifierParts.feedbackResistance *
    amplifierParts.feedbackCapacitance);

/** The drive that is drawn: V, Ω, F. */
export const driveParts = {
  battery: 9,
  seriesResistance: 180,
  /** Forward voltage of a red laser diode at work (common practice, no source). */
  laserVoltage: 2.2,
  /** Slope of its voltage against current (common practice, no source). */
  laserResistance: 4,
  modulationResistance: 470,
  modulationCapacitance: 1e-3,
} as const;

/** Standing current of the laser diode, in A. */
export const laserCurrent = (driveParts.battery - driveParts.laserVoltage) /
  driveParts.seriesResistance;

/** The part of the modulation that goes through the laser diode (1). */
const laserShare = driveParts.seriesResistance /
  (driveParts.seriesResistance + driveParts.laserResistance);

/** Resistance behind the generator's socket, where the scope's CH2 is, in Ω. */
const modulationPath = driveParts.modulationResistance +
  driveParts.laserResistance * laserShare;

/** Laser current per voltage at the generator's socket, in A/V. */
export const currentPerVoltage = laserShare / modulationPath;

/** Corner of capacitor and resistors against that voltage, in Hz. */
export const modulationCorner = 1 /
  (2 * Math.PI * modulationPath * driveParts.modulationCapacitance);
