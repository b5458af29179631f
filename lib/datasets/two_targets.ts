import { createRandom } from "../signal/mod.ts";
import { airIndex, ramp, rangingDiode } from "./bench.ts";
import { mixFringes, type Target } from "./mix_fringes.ts";
import { known, type MadeDataset, truth } from "./manifest.ts";
import {
  generatorScale,
  red,
  scopeDataset,
  triangle,
} from "./scope_capture.ts";

const samplingRate = 50e3;
const sampleCount = 6000;

/** A glass plate and a card behind it, both on one ramp of the red diode. */
export function makeTwoTargets(): MadeDataset[] {
  return [
    makeRamp({
      name: "two-targets",
      what:
        "Triangle of 25 Hz on the diode's current, a glass plate and the card well behind it; CH2 is the generator",
      plate: { distance: 0.0603, feedbackParameter: 0.2 },
      card: { distance: 0.1708, feedbackParameter: 0.3 },
      seed: 2701,
    }),
    makeRamp({
      name: "two-targets-close",
      what:
        "The same ramp, the card 1 mm behind the glass plate: less than one step; CH2 is the generator",
      plate: { distance: 0.0603, feedbackParameter: 0.2 },
      card: { distance: 0.0613, feedbackParameter: 0.2 },
      seed: 2702,
    }),
  ];
}

function makeRamp({ name, what, plate, card, seed }: {
  readonly name: string;
  readonly what: string;
  readonly plate: Target;
  readonly card: Target;
  readonly seed: number;
}): MadeDataset {
  const random = createRandom(seed);
  const middle = (ramp.low + ramp.high) / 2;
  const swing = (ramp.high - ramp.low) / 2;
  const monitor = new Float64Array(sampleCount);
  const generator = new Float64Array(sampleCount);
  let shift = 0;
  for (let i = 0; i < sampleCount; i++) {
    const turns = ramp.frequency * i / samplingRate + 0.2;
    const over = swing * triangle(turns);
    // The lag of the junction's warming is left out.
    const wavelength = rangingDiode.wavelength + rangingDiode.tuning * over;
    const now = mixFringes([plate, card], wavelength, shift);
    shift = now.shift;
    const volts = 5 + 200 * over + 0.1 * now.fringes + 1e-3 * random.normal();
    // Converters of 12 bits over 10 V and over 8 V.
    monitor[i] = Math.round(volts * 409.6) / 409.6;
    generator[i] =
      Math.round((over / generatorScale + 1e-3 * random.normal()) * 512) / 512;
  }
  const lowest = rangingDiode.wavelength - rangingDiode.tuning * swing;
  const highest = rangingDiode.wavelength + rangingDiode.tuning * swing;
  const steps = ({ distance }: Target) =>
    2 * airIndex * distance * (highest - lowest) / (lowest * highest);
  return scopeDataset({
    name,
    series: "two-targets",
    what,
    samplingRate,
    samples: [monitor, generator],
    channels: {
      CH1: "monitor signal",
      CH2: {
        role: "drive current",
        currentPerVoltage: generatorScale,
        currentOffset: middle,
      },
    },
    known: {
      wavelength: red,
      tuning: known(
        8.29e-9,
        0.03e-9,
        "m/A",
        "By an earlier calibration of this diode",
      ),
    },
    truth: {
      wavelength: truth(rangingDiode.wavelength, "m", "True wavelength"),
      tuning: truth(rangingDiode.tuning, "m/A", "Over the whole ramp"),
      plateDistance: truth(plate.distance, "m", "Plate from the facet"),
      cardDistance: truth(card.distance, "m", "Card from the facet"),
      plateSteps: truth(steps(plate), "1", "Steps of the plate per ramp"),
      cardSteps: truth(steps(card), "1", "Steps of the card per ramp"),
    },
  });
}
