/**
 * Square drives and ring-downs after a rest on many benches: edges, samples per
 * fringe, feedback, noise, amplifier poles. A number that is given must be right.
 * `npx -y deno@2.9.6 test -A tests/doors/steps_trial.ts`
 */
import { describe, expect, it } from "vitest";
import {
  type Capture,
  type Displacement,
  measureCapture,
  type Quantity,
} from "fringebook";
import { squareDrives } from "./cases.ts";
import { plainCapture, plainRandom, plainWavelength } from "./plain_bench.ts";

const seeds = Array.from({ length: 14 }, (_, i) => i + 1);

/** Picks of a bench, the same for the same seed. */
function picks(seed: number) {
  const uniform = plainRandom(131 * seed + 3);
  for (let i = 0; i < 30; i++) uniform();
  return <T>(list: readonly T[]): T =>
    list[Math.floor(uniform() * list.length)]!;
}

/** What came of a capture: no number, a right one, a doubted or a wrong one. */
function outcomeOf(
  capture: Capture,
  peakToPeak: number,
): "not recognised" | "right" | "doubted" | "wrong" {
  const { recognition, results } = measureCapture(capture, {
    wavelength: plainWavelength,
  });
  if (results.length === 0) {
    expect(recognition.reason).not.toBe("");
    return "not recognised";
  }
  const found = results.find(({ kind }) =>
    kind === "motion.displacement"
  ) as unknown as Displacement;
  const { value, expandedUncertainty } = found.peakToPeak;
  const isRight =
    Math.abs(value - peakToPeak) < 2 * expandedUncertainty + 0.5e-9;
  if (isRight) return "right";
  return found.warnings.some(({ severity }) => severity === "doubtful")
    ? "doubted"
    : "wrong";
}

function tally(outcomes: readonly string[]): Record<string, number> {
  const counts: Record<string, number> = {};
  for (const outcome of outcomes) counts[outcome] = (counts[outcome] ?? 0) + 1;
  return counts;
}

describe("a square drive on many benches", () => {
  it("gives no wrong number", () => {
    const cases = squareDrives(seeds.map((seed) => {
      const pick = picks(seed);
      return {
        edge: pick(["a tangent", "half a cosine", "a lag"]),
        samples: pick([3, 5, 7, 9, 14, 25]),
        feedback: pick([0.2, 0.5, 0.8, 1.5, 2.5, 3.5]),
        decibels: pick([15, 20, 25, 30, 40]),
        pole: pick([1e4, 0.25, 0.1, 0.05]),
        amplitude: pick([0.6e-6, 1e-6, 2e-6]),
        withDrive: pick([true, false]),
      };
    }));
    const outcomes = cases.map(({ name, capture, peakToPeak }) => {
      const outcome = outcomeOf(capture, peakToPeak);
      if (outcome !== "not recognised") console.log(name, outcome);
      return outcome;
    });
    const counts = tally(outcomes);
    console.log("square drives", counts);
    // Measured: 13 not recognised, 1 right.
    expect(counts["wrong"] ?? 0).toBe(0);
  });
});

describe("a ring-down after a rest on many benches", () => {
  it("gives no wrong number", () => {
    const outcomes = seeds.slice(0, 5).map((seed) => {
      const pick = picks(seed + 1000);
      const amplitude = pick([1e-6, 2e-6]);
      const frequency = pick([60, 140]);
      const timeConstant = pick([3, 6]) / frequency;
      const release = pick([0.01, 0.03, 0.06]);
      const bench = {
        feedback: pick([0.2, 0.5, 0.8, 1.5, 2.5]),
        decibels: pick([20, 25, 30, 40]),
        pole: pick([1e4, 0.25, 0.1]),
      };
      const capture = plainCapture({
        ...bench,
        samplingRate: 30e3,
        duration: release + 2 * timeConstant,
        way: (t) => {
          const since = t - release;
          return since < 0 ? amplitude : amplitude *
            Math.exp(-since / timeConstant) *
            Math.cos(2 * Math.PI * frequency * since);
        },
        seed,
      });
      const outcome = outcomeOf(
        capture,
        amplitude * (1 + Math.exp(-0.5 / frequency / timeConstant)),
      );
      if (outcome === "not recognised") return outcome;
      const [first] = measuredForm(capture);
      if (first === undefined) return outcome;
      const natural = Math.hypot(2 * Math.PI * frequency, 1 / timeConstant);
      const { naturalFrequency, dampingRatio } = first;
      const isRight = (own: Quantity, truth: number) =>
        Math.abs(own.value - truth) < 2.5 * own.expandedUncertainty;
      const both = isRight(naturalFrequency, natural / 2 / Math.PI) &&
        isRight(dampingRatio, 1 / natural / timeConstant);
      return both ? outcome : "wrong";
    });
    const counts = tally(outcomes);
    console.log("ring-downs after a rest", counts);
    // Measured: 3 not recognised; 2 with the right ring-down and a displacement that
    // is doubted for its release.
    expect(counts["wrong"] ?? 0).toBe(0);
  });
});

/** The ring-down that was found, or none. */
function measuredForm(
  capture: Capture,
): Record<"naturalFrequency" | "dampingRatio", Quantity>[] {
  return measureCapture(capture, { wavelength: plainWavelength }).results
    .filter(({ kind }) => kind === "motion.ringDown") as unknown as Record<
      "naturalFrequency" | "dampingRatio",
      Quantity
    >[];
}
