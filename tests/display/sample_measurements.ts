import {
  calibrateLevel,
  calibratePresence,
  calibrateSpeed,
  calibrateTuning,
  checkCapture,
  checkDiode,
  checkFrontEnd,
  countFringes,
  createCapture,
  estimateFeedback,
  estimateLaserSafety,
  estimateLink,
  estimateThermalLag,
  findPresence,
  findRamps,
  fitTuningRollOff,
  measureDisplacement,
  measureDisplacementSpectrum,
  measureDistance,
  measureLevel,
  measureResponse,
  measureRingDown,
  measureRotation,
  measureSpeed,
  measureSteps,
  measureVibration,
  measureWaveform,
  propagateUncertainty,
  quantity,
  rampCurrent,
  type Result,
  type Shown,
  showPitfalls,
  simulateCapture,
  subtractBackground,
  summariseBatch,
  trackSpeed,
  uncertainInput,
} from "fringebook";
import { lensLevel, levelCapture } from "../level/bench.ts";
import { targetsCapture } from "../range/two_targets.ts";
import { compareRuns } from "fringebook/batch";
import { convertDrive } from "fringebook/bench";
import { fitLine } from "fringebook/fit";
import { conditionSignal } from "fringebook/motion";
import { findTargets, fitTuningTemperature } from "fringebook/range";
import { checkStability } from "fringebook/record";
import { spectrogram, welch } from "fringebook/signal";

/** A capture of a vibrating target; simulated, with known truth. */
export function vibrationCapture() {
  return simulateCapture({
    distance: (time) => 0.1 + 1.5e-6 * Math.sin(2 * Math.PI * 25 * time),
    feedbackParameter: 0.7,
    refractiveIndex: 1,
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
    noise: { signalToNoiseRatio: 30 },
    seed,
  });
}

/** A light-current sweep: 0 to 50 mA, threshold at 24 mA. */
function lightCurrentCapture() {
  const current = Float64Array.from({ length: 251 }, (_, k) => k * 0.2e-3);
  return createCapture([
    { name: "drive", role: "drive current", unit: "A", samples: current },
    {
      name: "monitor",
      role: "monitor signal",
      unit: "A",
      samples: current.map((i, k) =>
        1e-4 * i + 3e-3 * Math.max(0, i - 0.024) + 2e-8 * Math.sin(7 * k)
      ),
    },
  ], { samplingRate: 100 });
}

const inVacuum = { wavelength: 650e-9, refractiveIndex: 1 };

/** One result of each kind that has figures, by name. */
export function sampleMeasurements(): Record<string, Result & Shown> {
  const vibration = vibrationCapture();
  const ramp = rampCapture(0.2);
  const noisy = simulateCapture({
    refractiveIndex: 1,
    distance: (time) => 0.1 + 1.5e-6 * Math.sin(2 * Math.PI * 25 * time),
    feedbackParameter: 2,
    samplingRate: 50e3,
    duration: 0.08,
    noise: { signalToNoiseRatio: 30 },
    drive: null,
    seed: 2,
  });
  const displacement = measureDisplacement(noisy, inVacuum);
  const ringing = simulateCapture({
    refractiveIndex: 1,
    distance: (time) =>
      0.1 + 3e-6 * Math.exp(-20 * time) * Math.cos(2 * Math.PI * 100 * time),
    feedbackParameter: 0.7,
    samplingRate: 100e3,
    duration: 0.1,
    noise: { signalToNoiseRatio: 30 },
    drive: null,
    seed: 5,
  });
  const running = simulateCapture({
    refractiveIndex: 1,
    distance: (time) => 0.1 + 2e-3 * time,
    samplingRate: 100e3,
    duration: 0.1,
    feedbackParameter: 0.7,
    noise: { signalToNoiseRatio: 20 },
    seed: 3,
  });
  const quiet = simulateCapture({
    refractiveIndex: 1,
    distance: 0.1,
    samplingRate: 100e3,
    duration: 0.1,
    noise: { signalToNoiseRatio: 20 },
    seed: 4,
  });
  const { samples } = vibration.channels[0]!;
  const { samplingRate } = vibration;
  const tuning = calibrateTuning(
    [0.1, 0.15, 0.2, 0.25].map((distance, k) => ({
      distance,
      standardUncertainty: 5e-5,
      capture: rampCapture(distance + (k % 2 ? 4e-5 : -4e-5), k + 2),
    })),
    { wavelength: 650e-9, distanceOffsetStandardUncertainty: 2e-5 },
  );
  const level = calibrateLevel(
    [6, 8, 10, 12, 14, 16, 18, 20, 23, 27, 32, 38, 46, 56].map((each, k) => ({
      distance: each / 1000,
      standardUncertainty: 1e-4,
      capture: levelCapture(lensLevel(each / 1000), { seed: k, fringe: 3e-7 }),
    })),
  );
  const threshold = calibratePresence(levelCapture(2e-4), {
    present: levelCapture(2.02e-4, { seed: 2 }),
  });
  const x = [1, 2, 3, 4, 5, 6];
  return {
    "capture": vibration,
    "capture check": checkCapture(vibration),
    "fringes": countFringes(noisy, inVacuum),
    "displacement": displacement,
    "vibration": measureVibration(displacement),
    "waveform": measureWaveform(displacement),
    "displacement spectrum": measureDisplacementSpectrum(displacement),
    "response": swept(),
    "pitfalls": showPitfalls(vibration, inVacuum),
    "ring-down": measureRingDown(
      measureDisplacement(ringing, inVacuum),
    ),
    "feedback": estimateFeedback(noisy, inVacuum),
    "conditioning": conditionSignal(noisy),
    "ramps": findRamps(ramp),
    "steps": measureSteps(ramp),
    "tuning": tuning,
    "targets": findTargets(
      targetsCapture({ distances: [0.03, 0.07], feedback: [0.2, 0.2] }),
    ),
    "roll-off": fitTuningRollOff([10, 100, 1e3, 1e4, 1e5].map((frequency) => ({
      modulationFrequency: frequency,
      tuning: {
        value: 8e-12 / Math.hypot(1, Math.sqrt(frequency / 1e3)) * 1e3,
        standardUncertainty: 1e-13,
      },
    }))),
    "thermal lag": estimateThermalLag(ramp),
    "distance": measureDistance(rampCapture(0.17, 9), { tuning }),
    "level calibration": level,
    "level": measureLevel(levelCapture(lensLevel(0.03), { seed: 3 }), {
      calibration: level,
      within: { low: 0.02, high: 1 },
    }),
    "threshold": threshold,
    "presence": findPresence(comesAndGoes(), threshold),
    "drive": convertDrive(hungOnVoltage(), {
      curve: [1.8, 1.84, 1.87, 1.9, 1.93, 1.96, 2].map((voltage) => ({
        voltage,
        current: 0.02 + 0.5 * (voltage - 1.8) ** 2 + 0.08 * (voltage - 1.8),
      })),
    }),
    "front end": checkFrontEnd(),
    "laser safety": estimateLaserSafety({
      wavelength: 650e-9,
      power: 3e-3,
      divergence: 1e-3,
    }),
    "link": estimateLink({ wavelength: 650e-9, distance: 0.2 }),
    "diode": checkDiode(lightCurrentCapture()),
    "speed": measureSpeed(running, inVacuum),
    "speed track": trackSpeed(vibration, inVacuum),
    "speed calibration": calibrateSpeed(
      [0.01, 0.02, 0.03].map((speed, k) => ({
        speed,
        frequency: 2 * speed * Math.cos(1.2) / 650e-9 + 10 * (k % 2),
        frequencyStandardUncertainty: 5,
      })),
      inVacuum,
    ),
    "rotation": measureRotation(running, {
      ...inVacuum,
      angle: 1.4,
      radius: 0.02,
    }),
    "background": subtractBackground(
      welch(running.channels[0]!.samples, { samplingRate }),
      welch(quiet.channels[0]!.samples, { samplingRate }),
    ),
    "budget": propagateUncertainty(
      ({ steps = 0, change = 1 }) => steps * 650e-9 ** 2 / (2 * change),
      [
        uncertainInput("steps", 47.34, { standardUncertainty: 0.1 }),
        uncertainInput("change", 20e-12, { standardUncertainty: 0.2e-12 }),
      ],
      { unit: "m", draws: 5000, seed: 1 },
    ),
    "line": fitLine(x, x.map((at) => 2 * at + Math.sin(at) / 10), {
      unitX: "A",
      unitY: "V",
    }),
    "batch": summariseBatch(batchOfSpeeds()),
    "runs": compareRuns(
      [0.8, 1.2].map((volts) => {
        const course = simulateCapture({
          refractiveIndex: 1,
          distance: (time) =>
            0.1 + volts * 1e-6 * Math.sin(2 * Math.PI * 100 * time),
          samplingRate: 50e3,
          duration: 0.03,
          drive: null,
          seed: 8,
        });
        return {
          label: `${volts} V`,
          setting: volts,
          result: measureVibration(course, inVacuum),
          course,
        };
      }),
      { quantity: "amplitude", settingName: "drive", settingUnit: "V" },
    ),
    "control chart": checkStability(
      Array.from({ length: 24 }, (_, k) => ({
        time: new Date(Date.UTC(2026, 9, 1 + k)),
        value: 0.12 + 2e-5 * Math.sin(7 * k * k) + (k > 21 ? 9e-5 : 0),
      })),
    ),
    "tuning temperature": fitTuningTemperature(
      [15, 25, 35].map((temperature) => {
        const factor = 1 - 3e-3 * (temperature - 25);
        const slope = tuning.stepsPerCurrentAndDistance;
        return {
          temperature,
          calibration: {
            ...tuning,
            stepsPerCurrentAndDistance: quantity(
              factor * slope.value + 5 * (temperature % 10),
              slope.standardUncertainty,
              slope.unit,
            ),
          },
        };
      }),
    ),
    "spectrum": welch(samples, { samplingRate }),
    "spectrogram": spectrogram(samples, {
      samplingRate,
      segmentLength: 512,
    }),
  };
}

/** Response of a target that follows its swept drive. */
function swept() {
  const samplingRate = 65536;
  const drive = (time: number) =>
    Math.sin(2 * Math.PI * (100 * time + 800 * time * time));
  const made = simulateCapture({
    refractiveIndex: 1,
    distance: (time) => 0.1 + 1e-6 * drive(time),
    samplingRate,
    duration: 0.25,
    noise: { signalToNoiseRatio: 30 },
    drive: null,
    seed: 6,
  });
  const capture = createCapture([...made.channels, {
    name: "piezo",
    role: "drive voltage",
    unit: "V",
    samples: Float64Array.from(
      { length: made.sampleCount },
      (_, i) => drive(i / samplingRate),
    ),
  }], { samplingRate });
  return measureResponse(
    measureDisplacement(capture, inVacuum),
    capture,
    { leastDrive: 0.05 },
  );
}

/** A diode that hangs on a triangle of volts. */
function hungOnVoltage() {
  const samples = Float64Array.from(
    { length: 400 },
    (_, i) => 1.9 + 0.05 * (4 * Math.abs((i / 100) % 1 - 0.5) - 1),
  );
  return createCapture([
    { name: "CH1", role: "monitor signal", unit: "V", samples },
    { name: "CH2", role: "drive voltage", unit: "V", samples },
  ], { samplingRate: 1e4 });
}

/** A target that comes to the bench twice. */
function comesAndGoes() {
  const parts = [2e-4, 2.02e-4, 2e-4, 2.015e-4, 2e-4].map((level, seed) =>
    levelCapture(level, { seed, samples: 2000 }).channels[0]!
  );
  return createCapture([{
    ...parts[0]!,
    samples: Float64Array.from(parts.flatMap(({ samples }) => [...samples])),
  }], { samplingRate: 10e3 });
}

/** A batch of seven captures: one stands apart, one failed. */
function batchOfSpeeds() {
  const speeds = [0.0301, 0.0299, 0.03, 0.0302, 0.0298, 0.0341];
  return {
    fileName: "batch.jsonl",
    sha256: null,
    brokenLines: [],
    outcomes: [
      ...speeds.map((value, k) => ({
        file: `disc-${k + 1}.wav`,
        status: "measured" as const,
        measurement: "speed",
        reason: "one line stands out",
        reports: [{
          kind: "speed.doppler",
          headlines: [{
            label: "speed",
            value,
            standardUncertainty: 1e-4,
            unit: "m/s",
          }],
          warnings: k < 4 ? [] : [{
            code: "low-snr",
            severity: "doubtful",
            message: "the line hardly stands out",
          }],
        }],
        error: null,
      })),
      {
        file: "gone.wav",
        status: "failed" as const,
        measurement: null,
        reason: null,
        reports: [],
        error: { name: "NotFound", message: "there is no such file" },
      },
    ],
  };
}
