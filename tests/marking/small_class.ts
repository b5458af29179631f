/**
 * A class with one question and captures of few bytes: what is tried is the
 * handout and the marking, not the measurement.
 *
 * @module
 */
import { createKeyedRandom } from "fringebook/signal";
import type { StudentSet } from "../../lib/datasets/mod.ts";
import { type Notebook, parseNotebook } from "../../lib/notebook/mod.ts";

/** Secret of the class. */
export const classSeed = "05".repeat(32);

/** The assignment with its solution. */
export const assignment = (): Notebook =>
  parseNotebook(JSON.stringify({
    nbformat: 4,
    nbformat_minor: 5,
    metadata: {
      fringebook: {
        questions: [{
          name: "distance",
          unit: "m",
          dataset: "my-distance",
          truth: "distance",
          relativeStandardUncertainty: 0.001,
        }],
      },
    },
    cells: [
      {
        cell_type: "markdown",
        id: "task",
        metadata: {},
        source: "# How far away is the card?",
      },
      {
        cell_type: "code",
        id: "import",
        metadata: {},
        source: 'import { recordAnswer } from "fringebook";',
        outputs: [],
        execution_count: null,
      },
      {
        cell_type: "code",
        id: "answer",
        metadata: { tags: ["answer"] },
        source:
          'recordAnswer("distance", { value: 0, standardUncertainty: 0, unit: "m" });',
        outputs: [],
        execution_count: null,
      },
      {
        cell_type: "code",
        id: "solution",
        metadata: { tags: ["solution"] },
        source: "// the secret way",
        outputs: [],
        execution_count: null,
      },
    ],
  }));

/** Captures of few bytes: what is marked here is the answer. */
export function makeCaptures(key: Uint8Array): StudentSet {
  const random = createKeyedRandom(key);
  return [{
    bytes: new TextEncoder().encode(`time,volts\n0,${random.uniform()}\n`),
    entry: {
      name: "my-distance",
      series: "student",
      file: "my-distance.csv",
      what: "Card at an unknown place",
      format: "delimited text",
      samplingRate: 1,
      sampleCount: 1,
      reading: {},
      known: {},
      truth: {
        distance: {
          value: 0.1 + 0.2 * random.uniform(),
          unit: "m",
          standardUncertainty: 0,
          what: "Card from the zero of the scale",
        },
      },
    },
  }];
}
