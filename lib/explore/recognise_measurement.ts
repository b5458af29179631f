import { type Capture, type Channel, findChannel } from "../capture/mod.ts";
import { copyOf } from "../memory/mod.ts";
import { findLeaps, type Leaps } from "../motion/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  benchOptions,
  type Option,
  optional,
  readOptions,
  requireCapture,
} from "../options/mod.ts";
import {
  createResult,
  inDigits,
  provenance,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { type BurstEvidence, burstEvidence } from "./burst_evidence.ts";
import { type DriveEvidence, gatherDriveEvidence } from "./drive_evidence.ts";
import {
  type FringeEvidence,
  gatherFringeEvidence,
} from "./fringe_evidence.ts";
import { gatherLevelEvidence, type LevelEvidence } from "./level_evidence.ts";
import { type LineForm, lineForm } from "./line_form.ts";
import { findPhaseLeaps, type PhaseLeaps } from "./phase_leaps.ts";
import { recogniseByDrive } from "./recognise_by_drive.ts";
import { recogniseByFringes } from "./recognise_by_fringes.ts";
import { recogniseByLevel } from "./recognise_by_level.ts";
import { type SwingEvidence, swingEvidence } from "./swing_evidence.ts";

/** What a capture can be a measurement of. */
export type MeasurementKind =
  | "distance"
  | "light-current curve"
  | "speed"
  | "motion"
  | "level"
  | "none";

/** What a capture seems to be, and why. */
export interface Recognition extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "explore.recognition";
  /** What it seems to be. */
  readonly measurement: MeasurementKind;
  /** One plain sentence: why. */
  readonly reason: string;
  /** One plain sentence: what to try next. */
  readonly nextStep: string;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: Evidence;
}

/** What speaks for and against a kind of measurement. */
export interface Evidence {
  /** What the drive channel tells. */
  readonly drive: DriveEvidence;
  /** `null` where there is no monitor signal or too little of it. */
  readonly fringes: FringeEvidence | null;
  /** Swings of the monitor signal; `null` like the fringes. */
  readonly swings: SwingEvidence | null;
  /** Leaps of the monitor signal between rests; `null` like the fringes. */
  readonly leaps: Leaps | null;
  /** Fringes in bursts between rests, as of a target that is driven in steps. */
  readonly bursts: BurstEvidence;
  /** Whether it is a level without fringes; `null` where it can be none. */
  readonly level: LevelEvidence | null;
  /** Swings of the drive channel; `null` where there is none. */
  readonly driveSwings: SwingEvidence | null;
  /** Harmonics of the fringes; `null` where they have no rate. */
  readonly line: LineForm | null;
  /** Leaps of the fringes' phase at even times; `null` for none. */
  readonly phaseLeaps: PhaseLeaps | null;
}

/** Unevenness of fringes from which on their phase tells nothing (1). */
const mostUneven = 0.3;

/** A decision: what it is, why, and what comes next. */
export type Decision = Pick<
  Recognition,
  "measurement" | "reason" | "nextStep"
>;

/** Options of {@linkcode recogniseMeasurement}. */
export interface RecogniseMeasurementOptions {
  /**
   * Mains frequency whose hum is left out, in Hz.
   *
   * @default {50}
   */
  mainsFrequency?: number | string;
}

export const recogniseSpec = {
  mainsFrequency: optional(benchOptions.mainsFrequency, 50),
} satisfies Record<keyof RecogniseMeasurementOptions, Option>;

/**
 * Says what kind of measurement a capture seems to be. The drive channel decides
 * first: a diode current that sweeps from near zero is a light–current curve; one
 * that ramps around an operating point, with the power following, measures a
 * distance. Otherwise the fringes decide: an even rate is a speed, also where the
 * surface turns round now and then; fringes that slow down and turn are a motion. A
 * record of two seconds or more that sits well off zero, changes slowly and carries
 * nothing but noise and hum is a level.
 *
 * It is `"none"` where the signal contradicts all of these: fringes that ride on
 * a level which marches up and down (a modulated current that was not recorded),
 * swings of unequal height (light that comes and goes), a tone whose harmonics no
 * row of fringes has, fringes too fast for the sampling, swapped channels.
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
  requireCapture(capture, work);
  const { mainsFrequency } = readOptions(recogniseSpec, options, work);
  const evidence = gather(capture, mainsFrequency);
  const warnings: Warning[] = [];
  const rate = evidence.fringes?.frequency ?? NaN;
  if (evidence.level?.isLevel !== true && rate > capture.samplingRate / 8) {
    warnings.push(warn(
      "near-nyquist",
      `The fringes come at ${
        inDigits(rate, 3)
      } Hz, more than an eighth of the sampling rate of ${capture.samplingRate} Hz: they may be aliased. Record faster, or move slower`,
    ));
  }
  const found = recogniseByDrive(capture, evidence) ??
    recogniseByLevel(evidence) ??
    recogniseByFringes(evidence, capture.samplingRate, warnings);
  return createResult<Recognition>({
    kind: "explore.recognition",
    ...found,
    warnings,
    provenance: provenance({
      method: "recogniseMeasurement",
      captures: [capture.source],
      options: { mainsFrequency },
    }),
    diagnostics: evidence,
  });
}

const work = "recognise a measurement";

function gather(capture: Capture, mainsFrequency: number): Evidence {
  const { samplingRate } = capture;
  const drive = findChannel(capture, "drive current") ??
    findChannel(capture, "drive voltage");
  const monitor = findChannel(capture, "monitor signal");
  const fringes = isUsable(monitor)
    ? gatherFringeEvidence(capture, mainsFrequency)
    : null;
  const swingsOf = (channel: Channel | null) =>
    isUsable(channel)
      ? swingEvidence(copyOf(channel.samples, work), samplingRate)
      : null;
  const swings = swingsOf(monitor);
  return {
    drive: gatherDriveEvidence(capture),
    fringes,
    swings,
    leaps: isUsable(monitor) ? findLeaps(monitor.samples) : null,
    bursts: burstEvidence(swings?.course ?? []),
    level: isUsable(monitor)
      ? gatherLevelEvidence(capture, mainsFrequency)
      : null,
    driveSwings: swingsOf(drive),
    line: fringes !== null && fringes.frequency > 0
      ? lineForm(
        copyOf(monitor!.samples, work),
        samplingRate,
        fringes.frequency,
      )
      : null,
    phaseLeaps: fringes !== null && fringes.unevenness < mostUneven
      ? findPhaseLeaps(monitor!.samples, samplingRate, fringes.frequency)
      : null,
  };
}

function isUsable(channel: Channel | null): channel is Channel {
  if (channel === null || channel.samples.length < 64) return false;
  const { samples } = channel;
  for (let i = 0; i < samples.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, work);
    if (!Number.isFinite(samples[i])) return false;
  }
  return true;
}
