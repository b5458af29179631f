/**
 * A class with one question and captures of few bytes: what is tried is the
 * handout and the marking, not the measurement.
 *
 * @module
 */
import { createKeyedRandom } from "fringebook/signal";
import {
  completeQuestion,
  type HandoutCapture,
  type Question,
} from "../../lib/marking/mod.ts";
import { type Notebook, parseNotebook } from "../../lib/notebook/mod.ts";

/** Secret of the class. */
export const classSeed = "05".repeat(32);

/** Its question. */
export const questions: readonly Question[] = [completeQuestion({
  name: "distance",
  unit: "m",
  capture: "my-distance",
  truth: "true.distance",
  reachable: "0.1 %",
}, 0)];

/** The assignment with its solution. */
export const assignment = (): Notebook =>
  parseNotebook(JSON.stringify({
    nbformat: 4,
    nbformat_minor: 5,
    metadata: {},
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
export function makeCaptures(key: Uint8Array): HandoutCapture[] {
  const random = createKeyedRandom(key);
  return [{
    name: "my-distance",
    file: "my-distance.csv",
    bytes: new TextEncoder().encode(`time,volts\n0,${random.uniform()}\n`),
    what: "Card at an unknown place",
    reading: {},
    known: {},
    truth: {
      distance: {
        value: 0.1 + 0.2 * random.uniform(),
        expandedUncertainty: 0,
      },
    },
  }];
}
