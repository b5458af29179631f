import { createRandom } from "../signal/mod.ts";
import { airIndex, rangingDiode, stage } from "./bench.ts";
import { known, type MadeDataset, type MadeTable, truth } from "./manifest.ts";
import {
  generatorScale,
  makeScopeCapture,
  red,
  standingCurrent,
  triangle,
} from "./scope_capture.ts";
import { writeLines } from "./write_text.ts";

/** Temperature at which `rangingDiode` tunes as it says, in °C. */
const middle = 25;
/** Relative change of the tuning per kelvin, in 1/K. */
const perKelvin = -3e-3;
/** Change of the wavelength per kelvin between two mode hops, in m/K. */
const wavelengthPerKelvin = 0.03e-9;
/** T0 of the threshold current, in K. */
const characteristicTemperature = 90;
/** Swing of the current to each side, in A. */
const swing = 2.5e-3;

/** The red diode with its mount at a temperature, in °C. */
function diodeAt(temperature: number) {
  const over = temperature - middle;
  return {
    ...rangingDiode,
    wavelength: rangingDiode.wavelength + wavelengthPerKelvin * over,
    tuning: rangingDiode.tuning * (1 + perKelvin * over),
    thresholdCurrent: rangingDiode.thresholdCurrent *
      Math.exp(over / characteristicTemperature),
  };
}

/** Temperatures of the calibrations, in °C, and places of the card, in mm. */
const temperatures = [15, middle, 35];
const places = [60, 110, 160];
/** Standard uncertainty of a place, read on the vernier, in m. */
const vernier = stage.readingUncertainty / 4;

function nameAt(temperature: number, millimetres: number): string {
  return `warm-${temperature}c-${String(millimetres).padStart(3, "0")}mm`;
}

/**
 * Ramps with the mount at three temperatures, the card at three places each, and
 * one at a fourth, at which nothing was calibrated.
 */
export function makeWarmRamps(): MadeDataset[] {
  const random = createRandom(2719);
  const calibrated = temperatures.flatMap((temperature) =>
    places.map((millimetres) => {
      const reading = millimetres / 1000;
      return makeWarmRamp({
        name: nameAt(temperature, millimetres),
        temperature,
        place: reading + vernier * random.normal(),
        reading,
        seed: 2721 + 10 * temperature + millimetres,
      });
    })
  );
  return [
    ...calibrated,
    makeWarmRamp({
      name: "warm-30c",
      temperature: 30,
      place: 0.15164,
      reading: null,
      seed: 3150,
    }),
  ];
}

function makeWarmRamp({ name, temperature, place, reading, seed }: {
  readonly name: string;
  readonly temperature: number;
  /** True place of the card on the scale, in m. */
  readonly place: number;
  /** What the scale shows, in m; `null` where it is to be found. */
  readonly reading: number | null;
  readonly seed: number;
}): MadeDataset {
  const diode = diodeAt(temperature);
  const wave = (time: number) => triangle(20 * time + 0.15);
  const optical = place + stage.zeroOffset;
  return makeScopeCapture({
    name,
    series: "warm",
    what:
      `Triangle of 20 Hz on the diode's current, its mount at ${temperature} °C, white card ${
        reading === null
          ? "at an unknown place"
          : `${(1e3 * reading).toFixed(0)} mm from the zero of the scale`
      }; CH2 is the generator`,
    samplingRate: 12.5e3,
    duration: 0.12,
    simulated: {
      distance: optical,
      current: (time) => standingCurrent + swing * wave(time),
      diode,
      feedbackParameter: 0.6,
      frontEnd: { bandwidth: 40e3, rails: { low: -9, high: 9 } },
    },
    drive: (time) => swing / generatorScale * wave(time),
    driveReading: "diode",
    digits: 3,
    seed,
    known: {
      wavelength: red,
      refractiveIndex: known(airIndex, 1e-6, "1", "Air of the room"),
      temperature: known(temperature, 0.1, "°C", "Of the mount, by thermistor"),
      ...(reading === null ? {} : {
        distance: known(
          reading,
          vernier,
          "m",
          "Read off the scale with its vernier",
        ),
      }),
    },
    truth: {
      wavelength: truth(diode.wavelength, "m", "True wavelength"),
      tuning: truth(diode.tuning, "m/A", "At this temperature"),
      relativeCoefficient: truth(
        perKelvin - 2 * wavelengthPerKelvin / rangingDiode.wavelength,
        "1/K",
        "Change per kelvin of the tuning over the square of the wavelength, which steps go by, at 25 °C",
      ),
      temperature: truth(temperature, "°C", "Of the mount"),
      distance: truth(place, "m", "Card from the zero of the scale"),
      zeroOffset: truth(stage.zeroOffset, "m", "Scale's zero from the facet"),
    },
  });
}

/** What `deno task new-calibration` reads of the ramps at one temperature. */
function makeWarmReadings(): MadeTable[] {
  return temperatures.map((temperature) => ({
    bytes: writeLines(
      [
        "file,distance (mm),standard uncertainty (mm)",
        ...places.map((millimetres) =>
          `${nameAt(temperature, millimetres)}.csv,${millimetres.toFixed(1)},${
            (1e3 * vernier).toFixed(2)
          }`
        ),
      ],
    ),
    entry: {
      name: `warm-${temperature}c`,
      file: `warm-${temperature}c.csv`,
      what:
        `Places of the card in the ramps with the mount at ${temperature} °C`,
      known: {},
      truth: {},
    },
  }));
}

/** The tables of the second thoughts. */
export function makeTables(): MadeTable[] {
  return [...makeWarmReadings(), makeCheckTable()];
}

/** The check of every morning: what is known of the card and what happened. */
const check = {
  distance: 0.12,
  scatter: 20e-6,
  mornings: 30,
  /** The morning before which the lens was cleaned, counted from 1. */
  cleaned: 24,
  step: 80e-6,
};

/** The same card, measured every morning. */
function makeCheckTable(): MadeTable {
  const { distance, scatter, mornings, cleaned, step } = check;
  const random = createRandom(2731);
  const lines = Array.from({ length: mornings }, (_, index) => {
    const value = distance + scatter * random.normal() +
      (index + 1 >= cleaned ? step : 0);
    const day = new Date(Date.UTC(2026, 9, 1 + index)).toISOString()
      .slice(0, 10);
    return `${day},${(1e3 * value).toFixed(4)},${(1e3 * scatter).toFixed(3)}`;
  });
  return {
    bytes: writeLines(["date,value (mm),standard uncertainty (mm)", ...lines]),
    entry: {
      name: "check-distance",
      file: "check-distance.csv",
      what:
        "Distance of the same card, measured every morning for 30 days; before one of them somebody cleaned the lens",
      known: {
        distance: known(distance, 15e-6, "m", "Of the card, by gauge block"),
      },
      truth: {
        distance: truth(distance, "m", "Of the card, before the lens moved"),
        scatter: truth(scatter, "m", "From one morning to the next"),
        step: truth(step, "m", "How much farther away the card seems since"),
        stepDay: truth(cleaned, "1", "First morning after it, from 1"),
      },
    },
  };
}
