import { measureDisplacement } from "fringebook";
import { displacementBound } from "fringebook/motion";
import { createRandom } from "fringebook/signal";
import type { GoldenRecord } from "../zoo/golden.ts";
import type { Outcome as ZooOutcome } from "../zoo/record.ts";
import {
  displacementError,
  makeScenario,
  type Scenario,
  wavelength,
} from "./scenario.ts";

/** A bench of the grid. */
export interface GridBench extends Scenario {
  /** Signal-to-noise ratio, in dB. */
  readonly snr: number;
  /** Speckle contrast; 0 for none. */
  readonly contrast: number;
}

/** Noise, bits, fading, C, α and amplitude over all that a bench may have. */
export function gridBench(seed: number): GridBench {
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
export type Outcome = "right" | "honest" | "warned" | "refused" | "confident";

/** What a bench came to. */
export interface Judged {
  readonly outcome: Outcome;
  /** Rms error over the bound (1). */
  readonly ratio: number;
  /** Rms error, in fringes; `null` without a result. */
  readonly error: number | null;
  readonly doubts: readonly string[];
  readonly note: string;
  /** CPU time of the measurement, in s. */
  readonly cpu: number;
}

/** CPU time of this process, in s. */
function cpuTime(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
}

/** Measures a bench and compares with what is true. */
export function judge(bench: Scenario): Judged {
  const { capture, feedbackParameter, linewidthEnhancementFactor } = bench;
  const begin = cpuTime();
  let result;
  try {
    result = measureDisplacement(capture, { wavelength });
  } catch (error) {
    return {
      outcome: "refused",
      ratio: NaN,
      error: null,
      doubts: [],
      note: `${error}`,
      cpu: cpuTime() - begin,
    };
  }
  const cpu = cpuTime() - begin;
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
  return {
    outcome,
    ratio,
    error: 2 * rms / wavelength,
    doubts: doubtful.map(({ code }) => code),
    note,
    cpu,
  };
}

/** A bench of the grid in the form of the zoo. */
export function gridRecord(
  seed: number,
  bench: GridBench,
  { outcome, ratio, error, doubts, cpu, note }: Judged,
): GoldenRecord {
  const of: Record<Outcome, ZooOutcome> = {
    right: "right",
    honest: "within U",
    warned: "warned",
    refused: "refused",
    confident: "confident",
  };
  return {
    name: `grid-${seed}`,
    motion: bench.contrast > 0 ? "sine with speckle" : "sine",
    draw: { feedbackParameter: bench.feedbackParameter, snr: bench.snr },
    ours: {
      outcome: of[outcome],
      error,
      overBound: Number.isFinite(ratio) ? ratio : null,
      doubted: doubts.length > 0,
      warnings: doubts,
      cpu,
      reason: error === null ? note : null,
    },
  };
}
