import {
  addedStraight,
  type Exercise,
  exercise,
  inPercent,
  mistake,
} from "./exercise.ts";
import { fringeRate } from "./fringes.ts";

/** ± 0.5 % of 4 V; five counts; four relative parts. */
export function uncertaintyExercises(): Exercise[] {
  const readings = [21.3, 21.1, 21.4, 21.2, 21.5];
  const mean = readings.reduce((sum, x) => sum + x, 0) / readings.length;
  const squares = readings.reduce((sum, x) => sum + (x - mean) ** 2, 0);
  const deviation = Math.sqrt(squares / 4);
  const shares = [0.0021, 0.0031, 0.01, 0.005];
  return [
    // A rectangular ± a has u = a/√3 (JCGM 100:2008, 4.3.7).
    exercise(
      "uncertainty.rectangular",
      0.02 / Math.sqrt(3),
      "V",
      "what a limit says where nothing else is known",
      [
        mistake(
          "limit for standard uncertainty",
          0.02,
          "for the limit itself",
          "What is the standard deviation of a rectangle of that half width?",
        ),
        mistake(
          "half width for width",
          0.02 / Math.sqrt(12),
          "when the limit is taken for the whole width",
          "From where to where does ± reach?",
        ),
        mistake(
          "limit for two standard uncertainties",
          0.01,
          "when the limit is taken for two standard uncertainties",
          "Does the sheet say anything of a normal distribution?",
        ),
      ],
    ),
    exercise(
      "uncertainty.mean",
      deviation / Math.sqrt(5),
      "1",
      "the scatter of one reading, and how a mean is better",
      [
        mistake(
          "one reading for the mean",
          deviation,
          "for one reading",
          "How much better is a mean of five?",
        ),
        mistake(
          "n for n − 1",
          Math.sqrt(squares / 5) / Math.sqrt(5),
          "when the squares are divided by 5",
          "The mean is from the same readings: how many are free?",
        ),
        mistake(
          "root forgotten",
          deviation / 5,
          "when the scatter is divided by 5",
          "How does the uncertainty of a mean fall with the number of readings?",
        ),
      ],
    ),
    exercise(
      "uncertainty.sum",
      Math.hypot(...shares),
      "1",
      "how independent shares add up",
      [
        addedStraight(shares.reduce((sum, share) => sum + share)),
        inPercent(100 * Math.hypot(...shares)),
        mistake(
          "largest share alone",
          0.01,
          "for the largest share alone",
          "What do the others add?",
        ),
      ],
      0.005,
    ),
  ];
}

/** The sampling rate of a capture; 3.1 µm at 211 Hz. */
export function exploreExercises(): Exercise[] {
  return [
    exercise(
      "explore.sampling-rate",
      96e3,
      "Hz",
      "what the check of the capture says of it",
    ),
    fringeRate("explore.bad-rate", 3.1e-6, 211),
  ];
}

/** 12 January to 12 July 2026. */
export function recordExercises(): Exercise[] {
  return [
    exercise("record.days", 181, "d", "the days of each month", [
      mistake(
        "both ends counted",
        182,
        "when the first and the last day both count",
        "How many nights lie between?",
      ),
      mistake(
        "months of 30 days",
        180,
        "for six months of 30 days",
        "How long are January to June?",
      ),
      mistake(
        "half a year of 365 days",
        182.5,
        "for half of 365 days",
        "Which half of the year is it?",
      ),
    ], 0.001),
  ];
}
