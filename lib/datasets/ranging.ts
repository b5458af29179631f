import {
  rampCurrent,
  simulateCapture,
  type SimulatedCapture,
} from "../laser/mod.ts";
import { createRandom, type RandomStream } from "../signal/mod.ts";
import {
  airIndex,
  driveGainError,
  driveGainUncertainty,
  ramp,
  rangingDiode,
  rangingLabel,
  stage,
} from "./bench.ts";
import { known, type MadeDataset, truth } from "./manifest.ts";
import { type TextStyle, writeText } from "./write_text.ts";

const samplingRate = 200e3;
const sampleCount = 18000;
const speedOfLight = 299_792_458;

/** Eight captures at known places of the carriage: the tuning series. */
export function makeTuningSeries(): MadeDataset[] {
  const random = createRandom(2601);
  return [60, 90, 120, 160, 200, 250, 300, 360].map((millimetres, index) => {
    const reading = millimetres / 1000;
    const place = reading + stage.readingUncertainty * random.normal();
    return makeRange({
      name: `tuning-${String(millimetres).padStart(3, "0")}mm`,
      series: "tuning",
      what:
        `Triangular current ramp, white card ${millimetres} mm from the zero of the stage's scale`,
      place,
      reading,
      seed: 2610 + index,
      rampStart: 0.31 + 0.07 * (index % 5),
      european: false,
    });
  });
}

/** Three captures at places that the student is to find. */
export function makeUnknownDistances(): MadeDataset[] {
  return [0.14372, 0.22846, 0.31897].map((place, index) =>
    makeRange({
      name: `distance-${"abc"[index]}`,
      series: "distance",
      what: `Triangular current ramp, white card at an unknown place ${
        "ABC"[index]
      }`,
      place,
      reading: null,
      seed: 2630 + index,
      rampStart: 0.31 + 0.07 * (index % 5),
      european: true,
    })
  );
}

/**
 * One capture with the card at a place of the caller's choice, for a student's
 * own unknown distance.
 */
export function makeDistanceCapture(
  recipe: {
    name: string;
    place: number;
    seed: number | RandomStream;
    rampStart: number;
  },
): MadeDataset {
  return makeRange({
    ...recipe,
    series: "student",
    what: "Triangular current ramp, white card at an unknown place",
    reading: null,
    european: true,
  });
}

interface RangeRecipe {
  readonly name: string;
  readonly series: string;
  readonly what: string;
  readonly place: number;
  readonly reading: number | null;
  readonly seed: number | RandomStream;
  /** Where in its period the ramp begins (1). */
  readonly rampStart: number;
  readonly european: boolean;
}

function makeRange(recipe: RangeRecipe): MadeDataset {
  const optical = recipe.place + stage.zeroOffset;
  const capture = simulateCapture({
    distance: optical,
    current: rampCurrent({ ...ramp, start: recipe.rampStart }),
    samplingRate,
    duration: sampleCount / samplingRate,
    feedbackParameter: 1.3,
    feedbackDistance: 0.2,
    modulationIndex: 0.012,
    refractiveIndex: airIndex,
    diode: rangingDiode,
    frontEnd: { bandwidth: 80e3, rails: { low: -9, high: 9 } },
    noise: { signalToNoiseRatio: 30, shot: true, flicker: 2e-4 },
    digitiser: { bits: 12, low: 0, high: 10 },
    drive: { noise: 8e-6 },
    oversampling: 4,
    seed: recipe.seed,
  });
  const shown = capture.channels[1]!.samples.map((value) =>
    Math.round(value * (1 + driveGainError) / (0.1 / 4096)) * (0.1 / 4096)
  );
  const first = rangingDiode.wavelength +
    wavelengthChange(ramp.low - rangingDiode.referenceCurrent);
  const last = rangingDiode.wavelength +
    wavelengthChange(ramp.high - rangingDiode.referenceCurrent);
  return {
    bytes: recipe.european
      ? europeanText(capture, shown)
      : plainText(capture, shown, recipe.reading),
    entry: {
      name: recipe.name,
      series: recipe.series,
      file: `${recipe.name}.csv`,
      what: recipe.what,
      format: recipe.european
        ? "delimited text: byte order mark, semicolon, decimal comma, time column"
        : "delimited text: metadata lines, comma, sampling rate in the metadata",
      samplingRate,
      sampleCount,
      reading: {},
      known: {
        wavelength: known(
          rangingLabel.value,
          rangingLabel.standardUncertainty,
          "m",
          "Label of the red diode",
        ),
        currentGain: known(
          1,
          driveGainUncertainty,
          "1",
          "Drive current shown per drive current, data sheet of the driver",
        ),
        rampFrequency: known(ramp.frequency, 0.01, "Hz", "Set at the driver"),
        refractiveIndex: known(airIndex, 1e-6, "1", "Air of the room"),
        ...(recipe.reading === null ? {} : {
          distance: known(
            recipe.reading,
            stage.readingUncertainty,
            "m",
            "Read off the stage's scale",
          ),
        }),
      },
      truth: {
        distance: truth(recipe.place, "m", "Card from the zero of the scale"),
        opticalDistance: truth(optical, "m", "Card from the diode's facet"),
        zeroOffset: truth(
          stage.zeroOffset,
          "m",
          "Zero of the scale from the diode's facet",
        ),
        wavelength: truth(rangingDiode.wavelength, "m", "At 40 mA"),
        tuning: truth(
          (last - first) / (ramp.high - ramp.low),
          "m/A",
          "Mean dλ/dI over the ramp, per true current",
        ),
        frequencyTuning: truth(
          (speedOfLight / last - speedOfLight / first) /
            (ramp.high - ramp.low),
          "Hz/A",
          "Mean dν/dI over the ramp, per true current",
        ),
        currentGain: truth(
          1 + driveGainError,
          "1",
          "Drive current shown per drive current",
        ),
        stepsPerRamp: truth(
          2 * airIndex * optical * (1 / first - 1 / last),
          "1",
          "Steps between the ends of the ramp, without the thermal lag",
        ),
        feedbackParameter: truth(
          1.3 * optical / 0.2,
          "1",
          "Feedback parameter C",
        ),
        linewidthEnhancementFactor: truth(
          rangingDiode.linewidthEnhancementFactor,
          "1",
          "Linewidth enhancement factor α",
        ),
      },
    },
  };
}

function wavelengthChange(current: number): number {
  return rangingDiode.tuning * current +
    rangingDiode.tuningCurvature * current * current;
}

function plainText(
  capture: SimulatedCapture,
  shown: ArrayLike<number>,
  reading: number | null,
): Uint8Array {
  const style: TextStyle = {
    delimiter: ",",
    decimal: ".",
    lineEnd: "\n",
    byteOrderMark: false,
  };
  return writeText(
    [
      "Origin: simulated teaching bench",
      `Carriage: ${(reading ?? NaN) * 1000} mm`,
      `Sampling rate: ${samplingRate} Hz`,
    ],
    [
      {
        heading: "monitor (V)",
        samples: capture.channels[0]!.samples,
        unit: 1,
        digits: 4,
      },
      {
        heading: "drive current (mA)",
        samples: shown,
        unit: 1e-3,
        digits: 3,
      },
    ],
    style,
  );
}

function europeanText(
  capture: SimulatedCapture,
  shown: ArrayLike<number>,
): Uint8Array {
  const time = Float64Array.from(
    { length: capture.sampleCount },
    (_, i) => i / samplingRate,
  );
  return writeText(
    [],
    [
      { heading: "time (ms)", samples: time, unit: 1e-3, digits: 3 },
      {
        heading: "monitor (V)",
        samples: capture.channels[0]!.samples,
        unit: 1,
        digits: 4,
      },
      {
        heading: "drive current (mA)",
        samples: shown,
        unit: 1e-3,
        digits: 3,
      },
    ],
    {
      delimiter: ";",
      decimal: ",",
      lineEnd: "\r\n",
      byteOrderMark: true,
    },
  );
}
