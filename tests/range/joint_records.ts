import { measureSteps } from "fringebook";
import { studentQuantile } from "fringebook/fit";
import type { GoldenRecord } from "../zoo/golden.ts";
import type { Outcome } from "../zoo/record.ts";
import { type JointBench, jointBound, jointCapture } from "./joint_bench.ts";

/** A bench of the joint trial, measured. */
export interface Trial {
  readonly bench: JointBench;
  readonly error: number;
  readonly uncertainty: number;
  readonly factor: number;
  /** Cramér–Rao bounds: cosine; jumps to a sample; pole of the amplifier known. */
  readonly bound: { cosine: number; sharp: number; pole: number };
  readonly doubtful: boolean;
  readonly hops: number;
  readonly lag: number;
  readonly doubts: readonly string[];
  /** CPU time of the measurement, in s. */
  readonly cpu: number;
}

/** A bench that gave no result. */
export interface Refused {
  readonly bench: JointBench;
  readonly reason: string;
  /** CPU time of the measurement, in s. */
  readonly cpu: number;
}

/** CPU time of this process, in s. */
function cpuTime(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
}

/** Measures a bench. */
export function measureJoint(bench: JointBench): Trial | Refused {
  const capture = jointCapture(bench);
  const begin = cpuTime();
  try {
    const result = measureSteps(capture);
    const cpu = cpuTime() - begin;
    const strokes = result.diagnostics.strokes;
    const samples = strokes.reduce((sum, s) => sum + s.end - s.start, 0);
    const nu = result.steps.degreesOfFreedom;
    const doubts = result.warnings
      .filter(({ severity }) => severity === "doubtful")
      .map(({ code }) => code);
    return {
      bench,
      // Per current, so that the place of the ramp's ends does not matter.
      error: result.stepsPerCurrent.value * (bench.high - bench.low) -
        bench.steps,
      uncertainty: result.stepsPerCurrent.standardUncertainty *
        (bench.high - bench.low),
      factor: nu < 1e3 ? studentQuantile(0.975, Math.max(1, nu)) : 1.96,
      bound: jointBound(
        bench,
        strokes.length,
        Math.round(samples / strokes.length),
      ),
      doubtful: doubts.length > 0,
      doubts,
      hops: result.modeHops.length,
      lag: result.thermalTimeConstant.value,
      cpu,
    };
  } catch (error) {
    return { bench, reason: (error as Error).message, cpu: cpuTime() - begin };
  }
}

/** Whether the 95 % interval holds the truth. */
export const inside = (t: Trial) =>
  Math.abs(t.error) <= t.factor * t.uncertainty;

/** A bench of the joint trial in the form of the zoo; the error is in steps. */
export function jointRecord(measured: Trial | Refused): GoldenRecord {
  const { bench, cpu } = measured;
  const kind = [
    bench.hop === null ? "" : "hop",
    bench.tap === null ? "" : "tap",
    bench.lag === 0 ? "" : "lag",
  ].filter((word) => word !== "").join(", ");
  const base = {
    name: `joint-${bench.seed}`,
    motion: kind === "" ? "undisturbed" : kind,
    draw: {
      feedbackParameter: bench.feedbackParameter,
      snr: bench.ratio,
      steps: bench.steps,
    },
  };
  if ("reason" in measured) {
    return {
      ...base,
      ours: {
        outcome: "refused",
        error: null,
        overBound: null,
        doubted: true,
        warnings: [],
        cpu,
        reason: measured.reason,
      },
    };
  }
  const error = Math.abs(measured.error);
  const outcome: Outcome = error <= 0.1
    ? "right"
    : measured.doubtful
    ? "warned"
    : inside(measured)
    ? "within U"
    : "confident";
  return {
    ...base,
    ours: {
      outcome,
      error,
      overBound: error / measured.bound.sharp,
      doubted: measured.doubtful,
      warnings: measured.doubts,
      cpu,
      reason: null,
    },
  };
}
