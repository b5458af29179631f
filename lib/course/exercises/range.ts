import {
  addedStraight,
  type Exercise,
  exercise,
  mistake,
  wholeWavelength,
} from "./exercise.ts";

const wavelength = 650e-9;
const speedOfLight = 299_792_458;

/** Steps at two distances: N = 11 at 120 mm, 22 at 240 mm, 6 mA, 650 nm. */
export function tuningExercises(): Exercise[] {
  const steps = 11;
  const distance = 0.12;
  const current = 6e-3;
  // Δλ = N λ² / (2 n ΔL)
  const span = steps * wavelength ** 2 / (2 * distance);
  const tuning = span / current;
  const frequency = steps * speedOfLight / (2 * distance);
  // Two independent whole counts, each rectangular ± 1/2: u = √(2/12).
  const perStep = tuning / steps;
  return [
    exercise(
      "tuning.two-points",
      tuning,
      "m/A",
      "the steps and the distance between the two places, and the current of the ramp",
      [
        mistake(
          "twice the steps",
          2 * tuning,
          "when a step stands for a whole wavelength of way, or 22 steps for the way between the two places",
          "What is one step worth, and how many steps belong to the way between?",
        ),
        mistake(
          "current forgotten",
          span,
          "for the change of wavelength over the whole ramp",
          "By what is it to be divided?",
        ),
        mistake(
          "far place for the way between",
          tuning / 2,
          "when 11 steps belong to 240 mm",
          "How far apart are the two places?",
        ),
      ],
    ),
    exercise(
      "tuning.two-points-uncertainty",
      perStep * Math.sqrt(2 / 12),
      "m/A",
      "the standard uncertainty of one whole count, and how two of them add up",
      [
        mistake(
          "one count for two",
          perStep * Math.sqrt(1 / 12),
          "for one count",
          "How many counts are in the difference?",
        ),
        mistake(
          "limit for standard uncertainty",
          perStep * Math.sqrt(1 / 2),
          "when ± ½ is taken for the standard uncertainty",
          "What is the standard uncertainty of a rectangular ± ½?",
        ),
        addedStraight(perStep),
      ],
      0.03,
    ),
    exercise(
      "tuning.frequency-span",
      frequency,
      "Hz",
      "how far the frequency tunes for one step",
      [
        mistake(
          "one way for there and back",
          2 * frequency,
          "when the light goes one way only",
          "How long is the way of the light?",
        ),
        mistake(
          "far place for the way between",
          frequency / 2,
          "when 11 steps belong to 240 mm",
          "How far apart are the two places?",
        ),
      ],
    ),
  ];
}

/** 14.2 steps on a ramp of 20 pm at 650 nm. */
export function distanceExercises(): Exercise[] {
  const steps = 14.2;
  const span = 20e-12;
  const distance = (count: number) => count * wavelength ** 2 / (2 * span);
  // Budget: N 0.05 of 14.2, wavelength 5 nm of 650 (twice), tuning 1 %.
  const shares = [0.05 / steps, 2 * 5e-9 / wavelength, 0.01];
  const relative = Math.hypot(...shares);
  return [
    exercise(
      "distance.one-step",
      distance(1),
      "m",
      "how far apart two distances are that differ by one step",
      [
        wholeWavelength(distance(2)),
        mistake(
          "step of the ramp for fringe of a motion",
          wavelength / 2,
          "for the way that a target moves for one fringe",
          "Here nothing moves: what tunes?",
        ),
      ],
    ),
    exercise(
      "distance.from-steps",
      distance(steps),
      "m",
      "what one step is worth, from the exercise before",
      [
        mistake(
          "whole steps only",
          distance(14),
          "for whole steps only",
          "What is the fraction worth?",
        ),
        wholeWavelength(distance(2 * steps)),
      ],
      0.005,
    ),
    exercise(
      "distance.uncertainty",
      distance(steps) * relative,
      "m",
      "each relative share, and how often the wavelength stands in the equation",
      [
        mistake(
          "wavelength once",
          distance(steps) * Math.hypot(0.05 / steps, 5e-9 / wavelength, 0.01),
          "when the wavelength counts once",
          "To which power does it stand in the equation?",
        ),
        addedStraight(
          distance(steps) * shares.reduce((sum, share) => sum + share),
        ),
        mistake(
          "relative for absolute",
          relative,
          "for the relative uncertainty",
          "How many metres is that?",
        ),
      ],
      0.02,
    ),
  ];
}
