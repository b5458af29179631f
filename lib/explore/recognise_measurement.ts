import { type Capture, findChannel } from "../capture/mod.ts";
import { requireCapture, requireOptionNames } from "../options/mod.ts";
import {
  createResult,
  inDigits,
  provenance,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { type DriveEvidence, driveEvidence } from "./drive_evidence.ts";
import { type FringeEvidence, fringeEvidence } from "./fringe_evidence.ts";

/** What a capture can be a measurement of. */
export type MeasurementKind =
  | "distance"
  | "light-current curve"
  | "speed"
  | "motion"
  | "none";

/** What a capture seems to be, and why. */
export interface Recognition extends Result {
  readonly kind: "explore.recognition";
  /** What it seems to be. */
  readonly measurement: MeasurementKind;
  /** One plain sentence: why. */
  readonly reason: string;
  /** One plain sentence: what to try next. */
  readonly nextStep: string;
  readonly diagnostics: {
    readonly drive: DriveEvidence;
    /** `null` where there is no monitor signal or too little of it. */
    readonly fringes: FringeEvidence | null;
  };
}

/** Options of {@linkcode recogniseMeasurement}. */
export interface RecogniseMeasurementOptions {
  /**
   * Mains frequency whose hum is left out, in Hz.
   *
   * @default {50}
   */
  mainsFrequency?: number;
}

/**
 * Says what kind of measurement a capture seems to be. The drive channel decides
 * first: a diode current that sweeps from near zero is a light–current curve; one
 * that ramps around an operating point, with the power following, measures a
 * distance. Otherwise the fringes decide: an even rate is a speed, slow moments
 * between fast ones are a motion.
 *
 * @param capture The capture.
 * @param options The mains frequency.
 * @returns The kind with its reason. A doubtful choice carries a warning.
 *
 * @example
 * ```ts
 * import { recogniseMeasurement, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 2e-6 * Math.sin(2 * Math.PI * 20 * time),
 *   samplingRate: 50_000,
 *   duration: 0.2,
 *   drive: null,
 * });
 * expect(recogniseMeasurement(capture).measurement).toBe("motion");
 * ```
 */
export function recogniseMeasurement(
  capture: Capture,
  options: RecogniseMeasurementOptions = {},
): Recognition & Shown {
  const task = "recognise a measurement";
  requireCapture(capture, task);
  requireOptionNames(options, ["mainsFrequency"], task);
  const { mainsFrequency = 50 } = options;
  const drive = driveEvidence(capture);
  const monitor = findChannel(capture, "monitor signal");
  const fringes = monitor !== null && capture.sampleCount >= 64 &&
      monitor.samples.every(Number.isFinite)
    ? fringeEvidence(capture, mainsFrequency)
    : null;
  const warnings: Warning[] = [];
  if (fringes !== null && fringes.frequency > capture.samplingRate / 8) {
    warnings.push(warn(
      "near-nyquist",
      `The fringes come at ${
        inDigits(fringes.frequency, 3)
      } Hz, more than an eighth of the sampling rate of ${capture.samplingRate} Hz: they may be aliased. Record faster, or move slower`,
    ));
  }
  const found = decide(drive, fringes, warnings);
  return createResult<Recognition>({
    kind: "explore.recognition",
    ...found,
    warnings,
    provenance: provenance({
      method: "recogniseMeasurement",
      captures: [capture.source],
      options: { mainsFrequency },
    }),
    diagnostics: { drive, fringes },
  });
}

function decide(
  drive: DriveEvidence,
  fringes: FringeEvidence | null,
  warnings: Warning[],
): Pick<Recognition, "measurement" | "reason" | "nextStep"> {
  const percent = (value: number) => `${inDigits(100 * value, 3)} %`;
  const followsDrive = drive.correlation > 0.8;
  if (drive.correlation > 0.5 && Math.abs(drive.floor) < 0.1) {
    return {
      measurement: "light-current curve",
      reason: `The drive runs from ${
        percent(drive.floor)
      } to its full value, and ${
        percent(drive.correlation)
      } of the monitor signal follows it.`,
      nextStep: "Find the threshold: checkDiode(capture).",
    };
  }
  if (followsDrive && drive.relativeSwing > 1e-3) {
    return {
      measurement: "distance",
      reason: `The drive '${drive.channel}' ramps by ${
        percent(drive.relativeSwing)
      } over ${drive.strokes} strokes, and ${
        percent(drive.correlation)
      } of the monitor signal follows it: the diode's own current is ramped.`,
      nextStep:
        "Count the steps: measureSteps(capture), then measureDistance with a tuning calibration.",
    };
  }
  if (fringes === null || fringes.prominence < 6 || fringes.fringes < 3) {
    return {
      measurement: "none",
      reason: fringes === null
        ? "There is no monitor signal of at least 64 finite samples."
        : fringes.prominence < 6
        ? `No frequency of the monitor signal stands out: the strongest is ${
          inDigits(fringes.prominence, 2)
        } times the median.`
        : `The monitor signal holds ${fringes.fringes} fringes; at least 3 are needed to tell.`,
      nextStep:
        "Check the capture and the bench: checkCapture(capture), and the guide's troubleshooting page.",
    };
  }
  const rate = `${inDigits(fringes.frequency / 1e3, 3)} kHz`;
  const even = fringes.slowShare < 0.12 && fringes.unevenness < 0.3;
  // Speckle makes the times between fringes uneven; the line stays clear of zero.
  const steady = even || fringes.lowShare < 0.04;
  if (steady && drive.relativeSwing > 0.1) {
    warnings.push(warn(
      "drive-and-steady-fringes",
      `The drive channel '${drive.channel}' changes while the fringes keep one rate; if the target is shaken by less than a quarter of a wavelength, this is a motion`,
    ));
  }
  return steady
    ? {
      measurement: "speed",
      reason: `The fringes keep their rate of ${rate}: ${
        even
          ? `the times between them scatter by ${percent(fringes.unevenness)}`
          : `only ${percent(fringes.lowShare)} of the power lies far below it`
      }.`,
      nextStep:
        "Measure the speed: measureSpeed(capture, { wavelength, angle }).",
    }
    : {
      measurement: "motion",
      reason:
        `The fringes do not keep their rate of ${rate}: the times between them scatter by ${
          percent(fringes.unevenness)
        }, as where a target turns round.`,
      nextStep:
        "Count the fringes: countFringes(capture, { wavelength }), then measureDisplacement.",
    };
}
