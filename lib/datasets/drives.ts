import { airIndex, ramp, rangingDiode } from "./bench.ts";
import { known, type MadeDataset, truth } from "./manifest.ts";
import {
  makeScopeCapture,
  red,
  standingCurrent,
  triangle,
} from "./scope_capture.ts";
import { writeLines } from "./write_text.ts";

const samplingRate = 50e3;
const duration = 0.12;
const { frequency } = ramp;

/** Tuning of the red diode, as an earlier calibration has it. */
const tuning = known(
  8.29e-9,
  0.03e-9,
  "m/A",
  "By an earlier calibration of this diode",
);

/** 2nkT/e of the diode's characteristic, in V, at 25 °C: n is 2. */
const slopeVoltage = 2 * 0.02569;
const saturationCurrent = 1e-18;
/** Series resistance of the diode and its leads, in Ω. */
const seriesResistance = 4;
/** The ends of the ramp that hangs on a voltage, in A. */
const hung = { low: 0.034, high: 0.046 };
/** Currents at which the characteristic was read off two meters, in A. */
const readAt = [30, 32, 34, 36, 38, 40, 42, 44, 46, 48, 50]
  .map((each) => each / 1000);

/** Voltage across the diode with its leads, in V (Shockley's law). */
function voltageAt(current: number): number {
  return slopeVoltage * Math.log(current / saturationCurrent + 1) +
    seriesResistance * current;
}

/** The current at a voltage: Newton's method on a curve without a bend back. */
function currentAt(voltage: number): number {
  let current = standingCurrent;
  for (let round = 0; round < 12; round++) {
    const slope = slopeVoltage / (current + saturationCurrent) +
      seriesResistance;
    current -= (voltageAt(current) - voltage) / slope;
  }
  return current;
}

/** A ramp on a constant voltage, and one that comes through a capacitor. */
export function makeDrives(): MadeDataset[] {
  return [makeVoltageDrive(), makeCapacitorDrive()];
}

/** The diode hangs on a supply of constant voltage, which ramps. */
function makeVoltageDrive(): MadeDataset {
  const [bottom, top] = [voltageAt(hung.low), voltageAt(hung.high)];
  const voltage = (time: number) =>
    (bottom + top) / 2 +
    (top - bottom) / 2 * triangle(frequency * time + 0.15);
  const distance = 0.1183;
  const lines = readAt.map((current) =>
    `${voltageAt(current).toFixed(4)},${(1e3 * current).toFixed(2)}`
  );
  return {
    ...makeScopeCapture({
      name: "voltage-drive",
      series: "drives",
      what:
        "Triangle of 25 Hz on the diode's voltage; CH2 is the voltage across the diode, whose current against voltage is in voltage-drive-curve.csv",
      samplingRate,
      duration,
      simulated: {
        distance,
        current: (time) => currentAt(voltage(time)),
        diode: rangingDiode,
        feedbackParameter: 0.8,
      },
      drive: voltage,
      driveRange: 0.2,
      driveReading: "voltage",
      digits: 5,
      seed: 2711,
      known: { wavelength: red, tuning },
      truth: {
        ...rangingTruth(distance),
        lowestCurrent: truth(hung.low, "A", "Least current of the ramp"),
        highestCurrent: truth(hung.high, "A", "Largest current of the ramp"),
      },
    }),
    beside: {
      bytes: writeLines(["voltage (V),current (mA)", ...lines]),
      entry: {
        name: "voltage-drive-curve",
        file: "voltage-drive-curve.csv",
        what:
          "Current against voltage of the red diode of voltage-drive, read off two meters",
        known: {},
        truth: {
          seriesResistance: truth(seriesResistance, "Ω", "Diode and leads"),
        },
      },
    },
  };
}

/** Corner of the capacitor in front of the diode, in Hz. */
const corner = 13.5;
/** Current per voltage of the generator behind its resistor, in A/V. */
const perVoltage = 5e-3;

/** A generator's triangle that reaches the diode through a capacitor. */
function makeCapacitorDrive(): MadeDataset {
  const distance = 0.1321;
  // The triangle rises or falls by 2 V in half a period; behind the capacitor
  // y' = slope - 2πfc y, and it settles so that y turns its sign in that time.
  const half = 1 / (2 * frequency);
  const rate = 2 * Math.PI * corner;
  const lasting = 2 / half / rate;
  const start = -lasting * Math.tanh(rate * half / 2);
  const through = (turns: number) => {
    const halves = 2 * (turns - Math.floor(turns));
    const [since, way] = halves < 1 ? [halves, 1] : [halves - 1, -1];
    return way *
      (lasting + (start - lasting) * Math.exp(-rate * half * since));
  };
  const turns = (time: number) => frequency * time + 0.1;
  return makeScopeCapture({
    name: "capacitor-drive",
    series: "drives",
    what:
      "Triangle of 25 Hz that reaches the diode through a capacitor; CH2 is the generator in front of it",
    samplingRate,
    duration,
    simulated: {
      distance,
      current: (time) => standingCurrent + perVoltage * through(turns(time)),
      diode: rangingDiode,
      feedbackParameter: 0.8,
    },
    drive: (time) => 0.7 + triangle(turns(time)),
    driveReading: "voltage",
    seed: 2712,
    known: {
      wavelength: red,
      tuning,
      currentPerVoltage: known(
        perVoltage,
        0.005 * perVoltage,
        "A/V",
        "Of the resistor behind the capacitor",
      ),
      operatingCurrent: known(
        standingCurrent,
        0.05e-3,
        "A",
        "Read off a meter while nothing is modulated",
      ),
    },
    truth: {
      ...rangingTruth(distance),
      currentPerVoltage: truth(perVoltage, "A/V", "Behind the capacitor"),
      operatingCurrent: truth(standingCurrent, "A", "Mean of the current"),
      couplingCorner: truth(corner, "Hz", "Corner of the capacitor"),
    },
  });
}

function rangingTruth(distance: number) {
  return {
    wavelength: truth(rangingDiode.wavelength, "m", "True wavelength"),
    tuning: truth(rangingDiode.tuning, "m/A", "At the standing current"),
    refractiveIndex: truth(airIndex, "1", "Of the air in the room"),
    distance: truth(distance, "m", "Card from the diode's facet"),
  };
}
