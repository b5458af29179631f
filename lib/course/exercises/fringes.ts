import {
  degrees,
  type Exercise,
  exercise,
  mistake,
  peakToPeak,
  wholeWavelength,
  withoutTurn,
} from "./exercise.ts";

const wavelength = 650e-9;
const half = wavelength / 2;

/** 5.35 µm of travel; 1 µm at 100 Hz; 24 fringes in a stroke; all at 650 nm. */
export function fringeExercises(): Exercise[] {
  const travel = 5.35e-6;
  return [
    exercise(
      "fringes.count",
      travel / half,
      "1",
      "how far the target moves for one fringe",
      [
        wholeWavelength(travel / wavelength),
        mistake(
          "whole fringes only",
          16,
          "for whole fringes only",
          "The first and the last fringe are rarely whole: what is the fraction?",
        ),
        mistake(
          "radians for fringes",
          2 * Math.PI * travel / half,
          "as a phase in radians",
          "How many fringes are that?",
        ),
      ],
      0.005,
    ),
    fringeRate("fringes.rate", 1e-6, 100),
    exercise(
      "fringes.amplitude",
      24 * half / 2,
      "m",
      "how far one stroke goes, and how far one fringe",
      [
        mistake(
          "twice the amplitude",
          24 * half,
          "when the whole stroke is taken for the amplitude, or one fringe for a whole wavelength",
          "From where to where does an amplitude go, and how far does the target move for one fringe?",
        ),
        mistake(
          "four times the amplitude",
          24 * wavelength,
          "when the whole stroke is taken for the amplitude and one fringe for a whole wavelength",
          "From where to where does an amplitude go, and how far does the target move for one fringe?",
        ),
      ],
    ),
  ];
}

/** Highest fringe rate of a sine at 650 nm: 2π f A/(λ/2). */
export function fringeRate(
  name: string,
  amplitude: number,
  frequency: number,
): Exercise {
  const rate = 2 * Math.PI * frequency * amplitude / half;
  return exercise(name, rate, "Hz", "the greatest speed of the target first", [
    wholeWavelength(rate / 2),
    withoutTurn(rate / (2 * Math.PI)),
    peakToPeak(2 * rate),
    mistake(
      "mean for greatest",
      4 * frequency * amplitude / half,
      "for the mean rate over a period",
      "Where is a sine fastest?",
    ),
  ]);
}

/** A filter of 40 % at C = 3; hysteresis at C = 2; 100 mm to 250 mm. */
export function feedbackExercises(): Exercise[] {
  // W/2π = [√(C²-1) - arccos(1/C)]/π = 0.2180 at C = 2.
  const width = (Math.sqrt(3) - Math.acos(1 / 2)) / Math.PI;
  return [
    // A filter passed twice multiplies the power by T² and the field by T.
    exercise(
      "feedback.filter",
      3 * 0.4,
      "1",
      "what the filter leaves of the amplitude, there and back",
      [
        mistake(
          "power for amplitude",
          3 * 0.4 ** 2,
          "when C follows the power of the light",
          "What does C follow?",
        ),
        mistake(
          "once through the filter",
          3 * Math.sqrt(0.4),
          "when the light passes the filter once",
          "How often does it pass?",
        ),
      ],
    ),
    exercise(
      "feedback.hysteresis",
      width,
      "1",
      "the equation for the width, and what it is counted in",
      [
        mistake(
          "radians for fringes",
          2 * Math.PI * width,
          "in radians",
          "How many fringes are that?",
        ),
        mistake(
          "half the width",
          width / 2,
          "from the middle to one edge",
          "From where to where does the hysteresis go?",
        ),
        degrees((Math.sqrt(3) - 60) / Math.PI),
      ],
    ),
    exercise("feedback.distance", 2.5, "1", "how C depends on the distance", [
      mistake(
        "square of the distance",
        2.5 ** 2,
        "when C grows with the square of the distance",
        "The share of light stays the same: what else is in C?",
      ),
      mistake(
        "the wrong way round",
        1 / 2.5,
        "when C falls with the distance",
        "Which way does C go?",
      ),
    ]),
  ];
}
