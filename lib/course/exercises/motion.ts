import {
  addedStraight,
  degrees,
  type Exercise,
  exercise,
  inPercent,
  mistake,
  peakToPeak,
  wholeWavelength,
  withoutTurn,
} from "./exercise.ts";

const wavelength = 650e-9;
const turn = 2 * Math.PI;

/** Noise of a thirtieth at 650 nm; 1.86 µm at 87.3 Hz; 20 and 15 nm. */
export function vibrationExercises(): Exercise[] {
  const frequency = 87.3;
  const amplitude = 1.86e-6;
  const speed = turn * frequency * amplitude;
  const noise = wavelength / (2 * turn) / 30;
  return [
    exercise(
      "displacement.noise",
      noise,
      "m",
      "how steep a fringe is at its steepest",
      [
        wholeWavelength(2 * noise),
        mistake(
          "a thirtieth of a fringe",
          wavelength / 2 / 30,
          "for a thirtieth of a fringe",
          "How far does the target move while the signal changes by one amplitude on the steepest part?",
        ),
      ],
      0.02,
    ),
    exercise(
      "vibration.speed",
      speed,
      "m/s",
      "the derivative of a sine",
      [
        withoutTurn(frequency * amplitude),
        peakToPeak(2 * speed),
      ],
    ),
    exercise(
      "vibration.acceleration",
      turn * frequency * speed,
      "m/s²",
      "the second derivative of a sine",
      [
        mistake(
          "2π forgotten once",
          frequency * speed,
          "with the factor 2π once",
          "How often does the angular frequency stand there?",
        ),
        withoutTurn(frequency ** 2 * amplitude),
        peakToPeak(2 * turn * frequency * speed),
      ],
    ),
    exercise(
      "vibration.distortion",
      Math.hypot(0.02, 0.015),
      "1",
      "how the harmonics add up",
      [
        addedStraight(0.02 + 0.015),
        inPercent(100 * Math.hypot(0.02, 0.015)),
        mistake(
          "one harmonic",
          0.02,
          "for the second harmonic alone",
          "Which others are there?",
        ),
      ],
    ),
  ];
}

/** 142.6 Hz and 118 ms; half in 12 periods; Q = 6 at 120 Hz. */
export function ringDownExercises(): Exercise[] {
  const decay = 0.118;
  const quality = Math.PI * 142.6 * decay;
  // Logarithmic decrement δ = ln 2 / 12; ζ = δ / √(4π² + δ²).
  const decrement = Math.LN2 / 12;
  return [
    exercise(
      "ring-down.quality",
      quality,
      "1",
      "how Q follows from frequency and decay time",
      [
        mistake(
          "energy for amplitude",
          2 * quality,
          "when the energy, not the amplitude, falls to 1/e in that time",
          "What falls to 1/e?",
        ),
        mistake(
          "π forgotten",
          quality / Math.PI,
          "as the number of periods",
          "Which factor makes it Q?",
        ),
      ],
    ),
    exercise(
      "ring-down.damping",
      decrement / Math.hypot(turn, decrement),
      "1",
      "the logarithmic decrement, and how the damping ratio follows from it",
      [
        mistake(
          "decrement for damping ratio",
          decrement,
          "for the logarithmic decrement",
          "What is the damping ratio, then?",
        ),
        mistake(
          "half for its logarithm",
          0.5 / 12 / turn,
          "when a half stands for its logarithm",
          "By which law does the amplitude fall?",
        ),
        mistake(
          "1/e for a half",
          1 / 12 / turn,
          "when the amplitude falls to 1/e in that time",
          "To what does it fall?",
        ),
      ],
    ),
    exercise(
      "ring-down.settling",
      Math.log(50) * decay,
      "s",
      "how an exponential falls to 2 %",
      [
        mistake(
          "logarithm to base 10",
          Math.log10(50) * decay,
          "with the logarithm to base 10",
          "Which logarithm belongs to an exponential?",
        ),
        mistake(
          "energy for amplitude",
          Math.log(50) * decay / 2,
          "when the energy, not the amplitude, falls to 2 %",
          "What falls to 2 %?",
        ),
      ],
      0.02,
    ),
    exercise("response.width", 20, "Hz", "how Q is defined by the width", [
      mistake(
        "half the width",
        10,
        "from the middle to one side",
        "From where to where does the width go?",
      ),
      mistake(
        "half the amplitude",
        20 * Math.sqrt(3),
        "where the amplitude has fallen to a half",
        "What has fallen to a half?",
      ),
    ]),
  ];
}

/** 53.4 kHz at 80°; 0.5° at 80°; 20 mm/s at 785 nm. */
export function speedExercises(): Exercise[] {
  const degree = Math.PI / 180;
  const along = 53.4e3 * wavelength / 2;
  const speed = along / Math.cos(80 * degree);
  const share = Math.tan(80 * degree) * 0.5 * degree;
  const rate = 2 * 20e-3 / 785e-9;
  return [
    exercise(
      "speed.from-line",
      speed,
      "m/s",
      "which part of the velocity the beam sees",
      [
        mistake(
          "cosine forgotten",
          along,
          "for a surface that runs straight along the beam",
          "Which part of the velocity does the beam see?",
        ),
        degrees(along / Math.cos(80)),
        wholeWavelength(2 * speed),
      ],
    ),
    exercise(
      "speed.angle-share",
      share,
      "1",
      "the derivative of the cosine, and the unit of the angle",
      [
        degrees(Math.tan(80 * degree) * 0.5),
        mistake(
          "tangent forgotten",
          0.5 * degree,
          "for the uncertainty of the angle itself",
          "How strongly does the speed depend on the angle at 80°?",
        ),
        mistake(
          "cotangent for tangent",
          0.5 * degree / Math.tan(80 * degree),
          "with the cotangent",
          "Is the speed more or less sensitive to the angle near 90°?",
        ),
        inPercent(100 * share),
      ],
      0.02,
    ),
    exercise(
      "speed.sampling",
      10 * rate,
      "Hz",
      "the fringe rate first",
      [
        wholeWavelength(5 * rate),
        mistake(
          "one sample per fringe",
          rate,
          "for one sample per fringe",
          "How many were asked for?",
        ),
        mistake(
          "two samples per fringe",
          2 * rate,
          "for two samples per fringe",
          "How many were asked for?",
        ),
      ],
    ),
  ];
}
