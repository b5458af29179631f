import { type Exercise, exercise, mistake } from "./exercise.ts";

/** Class 2 at 650 nm; 2 mW over a pupil of 7 mm. */
export function safetyExercises(): Exercise[] {
  const diameter = 7e-3;
  const power = 2e-3;
  return [
    // IEC 60825-1:2014: 1 mW, as quoted in the notebook on safety; Class 1 at
    // 650 nm 0.39 mW and Class 3R 5 mW from memory.
    exercise(
      "safety.class2",
      1e-3,
      "W",
      "the table of classes above",
      [
        mistake(
          "Class 1",
          0.39e-3,
          "for Class 1",
          "Which class was asked for?",
        ),
        mistake("Class 3R", 5e-3, "for Class 3R", "Which class was asked for?"),
      ],
      0.05,
    ),
    exercise(
      "safety.irradiance",
      power / (Math.PI / 4 * diameter ** 2),
      "W/m²",
      "the area of the pupil, in m²",
      [
        mistake(
          "diameter for radius",
          power / (Math.PI * diameter ** 2),
          "when the diameter is taken for the radius",
          "Which of the two does the area of a circle take?",
        ),
        mistake(
          "square for circle",
          power / diameter ** 2,
          "for a square of that width",
          "What is the area of a circle?",
        ),
      ],
      0.02,
    ),
  ];
}

/** 62 µA in 100 kΩ; thermal noise in 1 MHz; 24 mA from 25 to 45 °C, 92 K. */
export function diodeExercises(): Exercise[] {
  // √(4 k T R B), 40.70 µV with the CODATA value of k.
  const boltzmann = 1.380649e-23;
  const square = 4 * boltzmann * 300 * 100e3 * 1e6;
  const thermal = Math.sqrt(square);
  const threshold = 24e-3;
  return [
    exercise(
      "amplifier.standing",
      62e-6 * 100e3,
      "V",
      "what the amplifier makes of one microampere",
    ),
    exercise(
      "amplifier.thermal",
      thermal,
      "V",
      "the equation for the thermal noise of a resistor, and its units",
      [
        mistake(
          "factor 4 forgotten",
          thermal / 2,
          "without the 4 under the root",
          "Which number stands before kTRB?",
        ),
        mistake(
          "root forgotten",
          square,
          "for the square of the voltage",
          "What is left to do for the rms voltage?",
        ),
        mistake(
          "current for voltage",
          thermal / 100e3,
          "for the noise of the current",
          "What was asked for, current or voltage?",
        ),
      ],
    ),
    exercise(
      "diode.warm",
      threshold * Math.exp(20 / 92),
      "A",
      "how the threshold grows with the temperature",
      [
        mistake(
          "temperature for its rise",
          threshold * Math.exp(45 / 92),
          "when the temperature itself stands in the exponent",
          "By how many kelvin does it get warmer?",
        ),
        mistake(
          "falling with temperature",
          threshold * Math.exp(-20 / 92),
          "when the threshold falls as it gets warmer",
          "Which sign has the exponent?",
        ),
        mistake(
          "straight line",
          threshold * (1 + 20 / 92),
          "along a straight line",
          "Is the law a line or an exponential?",
        ),
      ],
    ),
  ];
}
