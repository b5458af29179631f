import { describe, expect, it } from "vitest";
import {
  countFringes,
  createRandom,
  displacementBound,
  measureDisplacement,
} from "fringebook";
import {
  displacementError,
  makeScenario,
  type Scenario,
  trialCount,
  wavelength,
} from "./scenario.ts";

/** Noise, bits, fading, C, α and amplitude over all that a bench may have. */
function gridBench(seed: number): Scenario & { snr: number; contrast: number } {
  // Not the seed of the scenario, whose draws would go along with these.
  const random = createRandom(170000 + seed);
  const logarithmic = (low: number, high: number) =>
    low * (high / low) ** random.uniform();
  const snr = 12 + 48 * random.uniform();
  const bits = 8 + random.integer(7);
  const amplitude = logarithmic(0.3e-6, 50e-6);
  // Every fourth bench has speckle.
  const contrast = seed % 4 === 0 ? logarithmic(0.1, 0.5) : 0;
  const scenario = makeScenario(70000 + seed, {
    signalToNoiseRatio: snr,
    bits,
    amplitude,
    contrast,
  });
  return { ...scenario, snr, contrast };
}

/**
 * Right: at most twice the bound (C and α are estimated). Honest: more, but the
 * stated uncertainty covers it. Warned: wrong, and said so. Refused: no result.
 * Confident: wrong by more than the stated uncertainty, without a word.
 */
type Outcome = "right" | "honest" | "warned" | "refused" | "confident";

const feedbackClasses = [0.05, 0.2, 0.6, 0.95, 1.2, 2.5, 6] as const;
const noiseClasses = [12, 20, 30, 60] as const;

const classOf = (edges: readonly number[], value: number) =>
  Math.min(
    edges.length - 2,
    edges.findLastIndex((edge) => value >= edge),
  );

describe("displacement over the whole grid", () => {
  it("is right, or says that it is not", () => {
    const count = trialCount(200);
    const table = new Map<string, Record<Outcome, number>>();
    const total: Record<Outcome, number> = {
      right: 0,
      honest: 0,
      warned: 0,
      refused: 0,
      confident: 0,
    };
    const benches = { clean: 0, speckle: 0 };
    const confident = { clean: 0, speckle: 0 };
    const right = { clean: 0, speckle: 0 };
    let fringes = 0;
    let found = 0;
    for (let seed = 1; seed <= count; seed++) {
      const bench = gridBench(seed);
      const { outcome, ratio, note } = judge(bench);
      total[outcome]++;
      const kind = bench.contrast > 0 ? "speckle" : "clean";
      benches[kind]++;
      if (outcome === "confident") confident[kind]++;
      if (outcome === "right") right[kind]++;
      const key = `${classOf(feedbackClasses, bench.feedbackParameter)} ${
        bench.contrast > 0 ? "speckle" : classOf(noiseClasses, bench.snr)
      }`;
      const row = table.get(key) ??
        { right: 0, honest: 0, warned: 0, refused: 0, confident: 0 };
      row[outcome]++;
      table.set(key, row);
      if (outcome !== "right") {
        console.log(
          `seed ${seed}: ${outcome}, C ${
            bench.feedbackParameter.toFixed(3)
          }, α ${bench.linewidthEnhancementFactor.toFixed(1)}, ${
            (bench.amplitude * 1e6).toFixed(2)
          } µm, ${bench.snr.toFixed(0)} dB, contrast ${
            bench.contrast.toFixed(2)
          }: ${ratio.toFixed(1)} times the bound; ${note}`,
        );
      }
      if (bench.snr >= 20 && bench.contrast === 0) {
        const { all, right } = fringesOf(bench);
        fringes += all;
        found += right;
      }
    }
    console.log(JSON.stringify({ total, benches, confident }));
    console.table(
      Object.fromEntries(
        feedbackClasses.slice(0, -1).map((from, c) => [
          `C ${from}–${feedbackClasses[c + 1]}`,
          Object.fromEntries(
            [...noiseClasses.slice(0, -1).keys(), "speckle"].map((s) => [
              s === "speckle"
                ? "speckle"
                : `${noiseClasses[s as number]}–${
                  noiseClasses[(s as number) + 1]
                } dB`,
              Object.entries(table.get(`${c} ${s}`) ?? {}).filter(([, n]) =>
                n > 0
              ).map(([outcome, n]) => `${n} ${outcome}`).join(", "),
            ]),
          ),
        ]),
      ),
    );
    console.log(
      `fringes at 20 dB and more, no speckle: ${found} of ${fringes} (${
        (100 * found / fringes).toFixed(3)
      } %) with the right sign`,
    );
    // The aim is none. Reached: 1 of 150 without speckle (2.1 times what is
    // stated, at an end of the record) and at most 1 of 50 with it.
    expect(confident.clean / benches.clean).toBeLessThan(0.02);
    expect(confident.speckle / benches.speckle).toBeLessThan(0.05);
    // Reached: 145 of 150, and 35 of 50 with speckle.
    expect(right.clean / benches.clean).toBeGreaterThan(0.9);
    expect(right.speckle / benches.speckle).toBeGreaterThan(0.6);
    expect(found / fringes).toBeGreaterThan(0.999);
  });
});

function judge(bench: Scenario): {
  outcome: Outcome;
  ratio: number;
  note: string;
} {
  const { capture, feedbackParameter, linewidthEnhancementFactor } = bench;
  let result;
  try {
    result = measureDisplacement(capture, { wavelength });
  } catch (error) {
    return { outcome: "refused", ratio: NaN, note: `${error}` };
  }
  const { displacement, rmsUncertainty, warnings, diagnostics } = result;
  const { phase, feedbackPhase } = capture.truth;
  const { rms: bound } = displacementBound(feedbackPhase, {
    wavelength,
    feedbackParameter,
    linewidthEnhancementFactor,
    relativeNoise: bench.relativeNoise,
    knotSpacing: Math.round(diagnostics.knotSpacing * result.samplingRate),
  });
  // Where the fringes do not tell the way, the motion may be reversed.
  const errors = [displacement, displacement.map((value) => -value)]
    .slice(0, result.directionDetermined ? 1 : 2)
    .map((values) => displacementError(values, phase).rms);
  const rms = Math.min(...errors);
  const ratio = rms / bound;
  const doubtful = warnings.filter(({ severity }) => severity === "doubtful");
  const note = `rms ${(rms * 1e9).toFixed(2)} nm, stated ${
    (rmsUncertainty * 1e9).toFixed(2)
  } nm, knots ${
    (diagnostics.knotSpacing * result.samplingRate).toFixed(0)
  }, C ${result.feedbackParameter.value.toFixed(3)} ${
    doubtful.map(({ code }) => code).join(" ")
  }`;
  const outcome = ratio <= 2
    ? "right"
    : rms <= 2 * rmsUncertainty
    ? "honest"
    : doubtful.length > 0
    ? "warned"
    : "confident";
  return { outcome, ratio, note };
}

/** Fringes passed, and those that were found with their sign. */
function fringesOf({ capture }: Scenario): { all: number; right: number } {
  const result = countFringes(capture, { wavelength });
  const { phase } = capture.truth;
  const all = pathOf(phase);
  if (!result.directionDetermined) return { all: 0, right: 0 };
  const wrong = result.warnings.some(({ severity }) => severity === "doubtful")
    ? 0
    : Math.abs(result.fringeCount.value - all);
  return { all, right: Math.max(0, all - wrong) };
}

/** Total way, in fringes. */
function pathOf(phase: Float64Array): number {
  let path = 0;
  for (let i = 1; i < phase.length; i++) {
    path += Math.abs(phase[i]! - phase[i - 1]!);
  }
  return path / (2 * Math.PI);
}
