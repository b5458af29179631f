import { createRandom, type RandomStream } from "../signal/mod.ts";
import {
  known,
  type MadeDataset,
  type ManifestValue,
  truth,
} from "./manifest.ts";
import { writeText } from "./write_text.ts";

/**
 * The near bench: the red diode behind a lens that is focused at some 15 mm, and
 * what a target adds to the light on its monitor photodiode, by its form.
 */

/** Monitor current without a target, in A. */
const emptyLevel = 57e-6;
const transimpedance = 100e3;
const samplingRate = 500;

/** Amplitude of the fringes of a card, in A. */
const fringe = 15e-9;

/** What a white card adds, as a part of the empty level: most at the focus. */
export function cardPart(distance: number): number {
  const near = (distance / 0.016) ** 2;
  return 0.012 * near / (0.4 + near ** 1.5);
}

/**
 * What retroreflecting film adds: it sends the beam back into the lens wherever it
 * stands, and less with the distance.
 */
export function filmPart(distance: number): number {
  return 0.14 / (1 + (distance / 0.045) ** 2);
}

const amplifier = known(
  transimpedance,
  1000 / Math.sqrt(3),
  "V/A",
  "Feedback resistor, 1 %",
);

/** Sweeps of a card and of film, an empty bench, and a card that comes and goes. */
export function makeLevels(): MadeDataset[] {
  const sweep = { from: 0.006, to: 0.08, duration: 10 };
  const swept = (time: number) =>
    sweep.from + (sweep.to - sweep.from) * time / sweep.duration;
  const ends = {
    from: known(sweep.from, 0.2e-3, "m", "Card at the first sample, by scale"),
    to: known(sweep.to, 0.2e-3, "m", "Card at the last sample, by scale"),
  };
  /** Times between which the card is there, and where it stands, in s and m. */
  const visits = [[2.5, 4.1, 0.02], [6.2, 6.9, 0.035], [
    9.4,
    13,
    0.05,
  ]] as const;
  const parts = (part: (distance: number) => number, name: string) => ({
    [`levelOf${name}At30mm`]: truth(
      emptyLevel * (1 + part(0.03)),
      "A",
      "Monitor current with it at 30 mm",
    ),
  });
  return [
    makeLevel({
      name: "level-card",
      what:
        "White card drawn slowly and evenly from 6 mm to 80 mm in front of the lens",
      duration: sweep.duration,
      part: (time) => cardPart(swept(time)),
      known: ends,
      truth: {
        peakDistance: truth(
          peakOf(cardPart),
          "m",
          "Where the level is highest",
        ),
        ...parts(cardPart, "Card"),
      },
      seed: 2681,
    }),
    makeLevel({
      name: "level-film",
      what:
        "Retroreflecting film drawn slowly and evenly from 6 mm to 80 mm in front of the lens",
      duration: sweep.duration,
      part: (time) => filmPart(swept(time)),
      known: ends,
      truth: parts(filmPart, "Film"),
      seed: 2682,
    }),
    makeLevel({
      name: "level-empty",
      what: "Nothing in front of the lens",
      duration: 10,
      part: () => 0,
      known: {},
      truth: {},
      seed: 2683,
    }),
    makeLevel({
      name: "level-card-rests",
      what: "White card at rest at 30 mm, wherever on a fringe it stands",
      duration: 2,
      // It stands near the top of a fringe.
      part: () => cardPart(0.03) + 0.8 * fringe / emptyLevel,
      known: {
        fringeAmplitude: known(
          fringe,
          2e-9,
          "A",
          "Half of what the level does when one taps on the table",
        ),
      },
      truth: {
        distance: truth(0.03, "m", "Card from the lens"),
        fringeAmplitude: truth(fringe, "A", "Amplitude of the card's fringes"),
      },
      seed: 2685,
    }),
    makeLevel({
      name: "level-visits",
      what:
        "White card that is held into the beam three times, at 20, 35 and 50 mm",
      duration: 15,
      part: (time) => {
        const stay = visits.find(([from, to]) => time >= from && time < to);
        return stay === undefined ? 0 : cardPart(stay[2]);
      },
      known: {},
      truth: {
        visits: truth(visits.length, "1", "How often the card came"),
        firstFrom: truth(visits[0][0], "s", "When it came first"),
        firstTo: truth(visits[0][1], "s", "When it went first"),
      },
      seed: 2684,
    }),
  ];
}

interface LevelRecipe {
  readonly name: string;
  readonly what: string;
  readonly duration: number;
  /** What the target adds at a time, as a part of the empty level. */
  readonly part: (time: number) => number;
  readonly known: Readonly<Record<string, ManifestValue>>;
  readonly truth: Readonly<Record<string, ManifestValue>>;
  readonly seed: number;
}

function makeLevel(recipe: LevelRecipe): MadeDataset {
  const { name, what, duration, part, seed } = recipe;
  const random = createRandom(seed);
  const count = Math.round(duration * samplingRate);
  const drift = slowDrift(random, count);
  const volts = Float64Array.from({ length: count }, (_, i) => {
    const time = i / samplingRate;
    const level = emptyLevel * (1 + part(time) + drift[i]!);
    const hum = 2e-3 * Math.sin(2 * Math.PI * 50 * time + 0.4);
    const value = transimpedance * level + hum + 4e-3 * random.normal();
    // 12 bits over 10 V.
    return Math.round(value / (10 / 4096)) * (10 / 4096);
  });
  return {
    bytes: writeText(
      [
        "Origin: simulated teaching bench",
        `Sampling rate: ${samplingRate} Hz`,
      ],
      [{ heading: "CH1 (V)", samples: volts, unit: 1, digits: 4 }],
      { delimiter: ",", decimal: ".", lineEnd: "\n", byteOrderMark: false },
    ),
    entry: {
      name,
      series: "level",
      file: `${name}.csv`,
      what,
      format:
        "delimited text: metadata lines, one column, sampling rate in the metadata",
      samplingRate,
      sampleCount: count,
      reading: { channels: { "CH1": "monitor signal" } },
      known: { transimpedance: amplifier, ...recipe.known },
      truth: {
        emptyLevel: truth(emptyLevel, "A", "Monitor current without a target"),
        transimpedance: truth(transimpedance, "V/A", "Gain of the amplifier"),
        ...recipe.truth,
      },
    },
  };
}

/** A walk of the diode's power that stays within some 2e-5 of it. */
function slowDrift(random: RandomStream, count: number): Float64Array {
  const drift = new Float64Array(count);
  for (let i = 1; i < count; i++) {
    drift[i] = 0.999 * drift[i - 1]! + 6e-7 * random.normal();
  }
  return drift;
}

function peakOf(part: (distance: number) => number): number {
  let best = 0.006;
  for (let at = 0.006; at < 0.08; at += 1e-5) {
    if (part(at) > part(best)) best = at;
  }
  return Number(best.toFixed(5));
}
