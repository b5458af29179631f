import { requireText } from "../options/mod.ts";
import type { Exercise } from "./check_answer.ts";
import type { MistakeKind } from "./mistake.ts";

const speedOfLight = 299_792_458;

/** Fills in what most exercises share. */
function exercise(
  name: string,
  truth: number,
  unit: string,
  pitfalls: Partial<Record<MistakeKind, number>> = {},
  relativeTolerance = 0.01,
): Exercise {
  return {
    name,
    truth,
    unit,
    relativeTolerance,
    needsUncertainty: false,
    pitfalls,
  };
}

const wavelength = 650e-9;

/** The notebooks' exercises; their wording stands in the notebooks. */
const all: readonly Exercise[] = [
  ...safetyExercises(),
  ...diodeExercises(),
  ...fringeExercises(),
  ...feedbackExercises(),
  ...motionExercises(),
  ...speedExercises(),
  ...tuningExercises(),
  ...distanceExercises(),
  ...uncertaintyExercises(),
  ...exploreExercises(),
  // 12 January to 12 July 2026.
  exercise("record.days", 181, "d", {}, 0.001),
];

const byName = new Map(all.map((each) => [each.name, each]));

/** Names of all exercises, in the order of the notebooks. */
export const exerciseNames: readonly string[] = all.map(({ name }) => name);

/**
 * Finds an exercise of the notebooks.
 *
 * @param name Name of the exercise, such as `"tuning.two-points"`.
 * @returns The exercise.
 * @throws {RangeError} If there is no such exercise; the message lists those
 * with a similar beginning.
 *
 * @example
 * ```ts
 * import { findExercise } from "fringebook";
 * import { expect } from "vitest";
 *
 * expect(findExercise("tuning.two-points").unit).toBe("m/A");
 * expect(() => findExercise("tuning.nothing")).toThrow("tuning.two-points");
 * ```
 */
export function findExercise(name: string): Exercise {
  requireText(name, "name", "find an exercise");
  const found = byName.get(name);
  if (found !== undefined) return found;
  const room = name.split(".")[0] ?? "";
  const similar = exerciseNames.filter((each) => each.startsWith(`${room}.`));
  throw new RangeError(
    `Cannot find the exercise '${name}': there are ${
      (similar.length > 0 ? similar : exerciseNames).join(", ")
    }`,
  );
}

/** Class 2 at 650 nm; 2 mW over a pupil of 7 mm. */
function safetyExercises(): Exercise[] {
  const area = Math.PI / 4 * 7e-3 ** 2;
  return [
    // IEC 60825-1:2014: 1 mW, as quoted in the notebook on safety.
    exercise("safety.class2", 1e-3, "W", {}, 0.05),
    exercise("safety.irradiance", 2e-3 / area, "W/m²", {
      // The diameter taken for the radius.
      "factor 2": 2e-3 / (4 * area),
    }, 0.02),
  ];
}

/** 62 µA in 100 kΩ; thermal noise in 1 MHz; 24 mA from 25 to 45 °C, 92 K. */
function diodeExercises(): Exercise[] {
  // √(4 k T R B), 40.70 µV with the CODATA value of k.
  const thermal = Math.sqrt(4 * 1.380649e-23 * 300 * 100e3 * 1e6);
  return [
    exercise("amplifier.standing", 62e-6 * 100e3, "V"),
    exercise("amplifier.thermal", thermal, "V", { "factor 2": thermal / 2 }),
    exercise("diode.warm", 24e-3 * Math.exp(20 / 92), "A"),
  ];
}

/** 53.4 kHz at 80°; 0.5° at 80°; 20 mm/s at 785 nm. */
function speedExercises(): Exercise[] {
  const degree = Math.PI / 180;
  const along = 53.4e3 * wavelength / 2;
  const speed = along / Math.cos(80 * degree);
  const share = Math.tan(80 * degree) * 0.5 * degree;
  const rate = 2 * 20e-3 / 785e-9;
  return [
    exercise("speed.from-line", speed, "m/s", {
      "missing cosine": along,
      "degrees for radians": along / Math.cos(80),
      "wavelength for half a wavelength": 2 * speed,
    }),
    exercise("speed.angle-share", share, "1", {
      "degrees for radians": Math.tan(80 * degree) * 0.5,
    }, 0.02),
    exercise("speed.sampling", 10 * rate, "Hz", {
      "wavelength for half a wavelength": 5 * rate,
    }),
  ];
}

/** 5.35 µm of travel; 1 µm at 100 Hz; 24 fringes in a stroke; all at 650 nm. */
function fringeExercises(): Exercise[] {
  const half = wavelength / 2;
  // v_max = 2π f A, fringe rate 2 v_max / λ: 1933 Hz.
  const rate = 2 * Math.PI * 100 * 1e-6 / half;
  return [
    exercise("fringes.count", 5.35e-6 / half, "1", {
      "wavelength for half a wavelength": 5.35e-6 / wavelength,
      "integer count": 16,
    }, 0.005),
    exercise("fringes.rate", rate, "Hz", {
      "wavelength for half a wavelength": rate / 2,
      "factor 2 pi": rate / (2 * Math.PI),
    }),
    exercise("fringes.amplitude", 24 * half / 2, "m", {
      "wavelength for half a wavelength": 24 * wavelength,
      "factor 2": 24 * half,
    }),
  ];
}

/** A filter of 40 % at C = 3; hysteresis at C = 2; 100 mm to 250 mm. */
function feedbackExercises(): Exercise[] {
  return [
    // A filter passed twice multiplies the power by T² and the field by T.
    exercise("feedback.filter", 3 * 0.4, "1", { "round trip": 3 * 0.4 ** 2 }),
    // W/2π = [√(C²-1) - arccos(1/C)]/π = 0.2180 at C = 2.
    exercise(
      "feedback.hysteresis",
      (Math.sqrt(3) - Math.acos(1 / 2)) / Math.PI,
      "1",
      { "factor 2 pi": 2 * (Math.sqrt(3) - Math.acos(1 / 2)) },
    ),
    exercise("feedback.distance", 2.5, "1", { "round trip": 2.5 ** 2 }),
  ];
}

/**
 * Noise of a thirtieth at 650 nm; 1.86 µm at 87.3 Hz; harmonics of 20 and 15 nm;
 * 142.6 Hz and 118 ms; half in 12 periods; Q = 6 at 120 Hz.
 */
function motionExercises(): Exercise[] {
  const omega = 2 * Math.PI * 87.3;
  const noise = wavelength / (4 * Math.PI) / 30;
  const quality = Math.PI * 142.6 * 0.118;
  // Logarithmic decrement δ = ln 2 / 12; ζ = δ / √(4π² + δ²).
  const decrement = Math.LN2 / 12;
  return [
    exercise("displacement.noise", noise, "m", {
      "wavelength for half a wavelength": 2 * noise,
    }, 0.02),
    exercise("vibration.speed", omega * 1.86e-6, "m/s", {
      "factor 2 pi": 87.3 * 1.86e-6,
    }),
    exercise("vibration.acceleration", omega ** 2 * 1.86e-6, "m/s²", {
      "factor 2 pi": 87.3 * omega * 1.86e-6,
    }),
    exercise("vibration.distortion", Math.hypot(0.02, 0.015), "1"),
    exercise("ring-down.quality", quality, "1", { "factor 2": 2 * quality }),
    exercise(
      "ring-down.damping",
      decrement / Math.hypot(2 * Math.PI, decrement),
      "1",
      { "factor 2 pi": decrement },
    ),
    exercise("ring-down.settling", Math.log(50) * 0.118, "s", {}, 0.02),
    exercise("response.width", 20, "Hz", { "factor 2": 10 }),
  ];
}

/** Steps at two distances: N = 11 at 120 mm, 22 at 240 mm, 6 mA, 650 nm. */
function tuningExercises(): Exercise[] {
  const steps = 11;
  const distance = 0.12;
  const current = 6e-3;
  // Δλ = N λ² / (2 n ΔL)
  const wavelengthSpan = steps * wavelength ** 2 / (2 * distance);
  const tuning = wavelengthSpan / current;
  // Two independent whole counts, each rectangular ± 1/2: u = √(2/12).
  const countRelative = Math.sqrt(2 / 12) / steps;
  return [
    exercise("tuning.two-points", tuning, "m/A", {
      "wavelength for half a wavelength": 2 * tuning,
      "unit prefix": wavelengthSpan,
    }),
    exercise("tuning.two-points-uncertainty", tuning * countRelative, "m/A", {
      "factor 2": tuning * 1 / steps,
    }, 0.03),
    exercise(
      "tuning.frequency-span",
      steps * speedOfLight / (2 * distance),
      "Hz",
      { "round trip": steps * speedOfLight / distance },
    ),
  ];
}

/** 14.2 steps on a ramp of 20 pm at 650 nm. */
function distanceExercises(): Exercise[] {
  const steps = 14.2;
  const span = 20e-12;
  const distance = (count: number) => count * wavelength ** 2 / (2 * span);
  return [
    exercise("distance.one-step", distance(1), "m", {
      "wavelength for half a wavelength": distance(2),
    }),
    exercise("distance.from-steps", distance(steps), "m", {
      "integer count": distance(14),
      "round trip": distance(2 * steps),
    }, 0.005),
    // Budget: N 0.05 of 14.2, wavelength 5 nm of 650 (twice), tuning 1 %.
    exercise(
      "distance.uncertainty",
      distance(steps) *
        Math.hypot(0.05 / steps, 2 * 5e-9 / wavelength, 0.01),
      "m",
      {
        "factor 2": distance(steps) *
          Math.hypot(0.05 / steps, 5e-9 / wavelength, 0.01),
      },
      0.02,
    ),
  ];
}

/** The sampling rate of a capture; 3.1 µm at 211 Hz. */
function exploreExercises(): Exercise[] {
  const rate = 2 * Math.PI * 211 * 3.1e-6 / (wavelength / 2);
  return [
    exercise("explore.sampling-rate", 96e3, "Hz"),
    exercise("explore.bad-rate", rate, "Hz", {
      "wavelength for half a wavelength": rate / 2,
      "factor 2 pi": rate / (2 * Math.PI),
    }),
  ];
}

/** ± 0.5 % of 4 V; five counts; four relative parts. */
function uncertaintyExercises(): Exercise[] {
  const readings = [21.3, 21.1, 21.4, 21.2, 21.5];
  const mean = readings.reduce((sum, x) => sum + x, 0) / readings.length;
  const deviation = Math.sqrt(
    readings.reduce((sum, x) => sum + (x - mean) ** 2, 0) /
      (readings.length - 1),
  );
  return [
    // A rectangular ± a has u = a/√3 (JCGM 100:2008, 4.3.7).
    exercise("uncertainty.rectangular", 0.02 / Math.sqrt(3), "V"),
    exercise("uncertainty.mean", deviation / Math.sqrt(5), "1"),
    exercise(
      "uncertainty.sum",
      Math.hypot(0.0021, 0.0031, 0.01, 0.005),
      "1",
      {},
      0.005,
    ),
  ];
}
