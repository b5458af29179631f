import {
  calibrateTuning,
  checkCapture,
  checkFrontEnd,
  countFringes,
  estimateLaserSafety,
  findRamps,
  fitLine,
  measureDistance,
  measureSteps,
  rampCurrent,
  type Result,
  type Shown,
  simulateCapture,
  spectrogram,
  welch,
} from "fringebook";

/** A capture of a vibrating target; simulated, with known truth. */
export function vibrationCapture() {
  return simulateCapture({
    distance: (time) => 0.1 + 1.5e-6 * Math.sin(2 * Math.PI * 25 * time),
    feedbackParameter: 0.7,
    samplingRate: 100e3,
    duration: 0.08,
    seed: 1,
  });
}

/** A capture of a ramp at a known distance. */
export function rampCapture(distance: number, seed = 1) {
  return simulateCapture({
    distance,
    refractiveIndex: 1.00027,
    feedbackParameter: 0.6,
    current: rampCurrent({ low: 0.038, high: 0.042, frequency: 10 }),
    samplingRate: 10e3,
    duration: 0.3,
    seed,
  });
}

/** One result of each kind that has figures, by name. */
export function sampleMeasurements(): Record<string, Result & Shown> {
  const vibration = vibrationCapture();
  const ramp = rampCapture(0.2);
  const { samples } = vibration.channels[0]!;
  const { samplingRate } = vibration;
  const tuning = calibrateTuning(
    [0.1, 0.15, 0.2, 0.25].map((distance, k) => ({
      distance,
      standardUncertainty: 5e-5,
      capture: rampCapture(distance + (k % 2 ? 4e-5 : -4e-5), k + 2),
    })),
    { wavelength: 650e-9, distanceOffsetUncertainty: 2e-5 },
  );
  const x = [1, 2, 3, 4, 5, 6];
  return {
    "capture": vibration,
    "capture check": checkCapture(vibration),
    "fringes": countFringes(vibration, { wavelength: 650e-9 }),
    "ramps": findRamps(ramp),
    "steps": measureSteps(ramp),
    "tuning": tuning,
    "distance": measureDistance(rampCapture(0.17, 9), { tuning }),
    "front end": checkFrontEnd(),
    "laser safety": estimateLaserSafety({
      wavelength: 650e-9,
      power: 3e-3,
      divergence: 1e-3,
    }),
    "line": fitLine(x, x.map((at) => 2 * at + Math.sin(at) / 10), {
      unitX: "A",
      unitY: "V",
    }),
    "spectrum": welch(samples, { samplingRate }),
    "spectrogram": spectrogram(samples, {
      samplingRate,
      segmentLength: 512,
    }),
  };
}
