import {
  benchOptions,
  groupOption,
  type Option,
  optional,
  optionOf,
  type ReadOptions,
  readOptions,
} from "../../options/mod.ts";
import {
  createResult,
  provenance,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../../result/mod.ts";
import { judge, type PlanVerdict } from "./judge.ts";

/** Options of {@linkcode planMeasurement}. */
export interface PlanOptions {
  /** Vacuum wavelength, in m. */
  wavelength: number | string;
  /** Distance of the target, in m. */
  distance: number | string;
  /**
   * Vibration: amplitude (half of peak to peak) in m, frequency in Hz.
   *
   * @default {null}
   */
  motion?: {
    amplitude: number | string;
    frequency: number | string;
  } | null;
  /**
   * Running surface: speed in m/s, angle between beam and velocity in rad.
   *
   * @default {null}
   */
  surface?: { speed: number | string; angle: number | string } | null;
  /**
   * Current ramp (triangle): tuning in m/A, span in A, ramps per second in Hz.
   *
   * @default {null}
   */
  ramp?: {
    tuning: number | string;
    currentSpan: number | string;
    frequency: number | string;
  } | null;
  /** Samples per second, in Hz. */
  samplingRate: number | string;
  /**
   * -3 dB frequency of the amplifier, in Hz; `null` for no limit.
   *
   * @default {null}
   */
  bandwidth?: number | string | null;
  /**
   * Corner of the coupling capacitor, in Hz; `null` for DC.
   *
   * @default {null}
   */
  couplingCorner?: number | string | null;
  /**
   * Fringe over noise, mean squares, in dB.
   *
   * @default {30}
   */
  signalToNoiseRatio?: number | string;
  /**
   * Feedback parameter C (1).
   *
   * @default {1}
   */
  feedbackParameter?: number;
  /**
   * Linewidth of the diode (full width at half maximum), in Hz.
   *
   * @default {20e6}
   */
  linewidth?: number | string;
  /**
   * Phase index of air (1).
   *
   * @default {1.00027, the air of a room}
   */
  refractiveIndex?: number | string;
}

export const planSpec = {
  wavelength: benchOptions.wavelength,
  distance: benchOptions.distance,
  motion: optional(
    groupOption("Vibration of the target.", {
      amplitude: optionOf.length("Amplitude, in m.", "1um"),
      frequency: optionOf.frequency("Frequency, in Hz."),
    }),
    null,
  ),
  surface: optional(
    groupOption("Running surface.", {
      speed: optionOf.positive("Speed, in m/s.", "m/s", "30mm/s"),
      angle: benchOptions.angle,
    }),
    null,
  ),
  ramp: optional(
    groupOption("Current ramp (triangle).", {
      tuning: benchOptions.tuningCoefficient,
      currentSpan: optionOf.current("Span of the current, in A."),
      frequency: optionOf.frequency("Ramps per second, in Hz.", "10Hz"),
    }),
    null,
  ),
  samplingRate: benchOptions.samplingRate,
  bandwidth: optional(
    optionOf.frequency("−3 dB frequency of the amplifier, in Hz.", "200kHz"),
    null,
    "no limit",
  ),
  couplingCorner: benchOptions.couplingCorner,
  signalToNoiseRatio: optional(
    optionOf.finite("Fringe over noise, mean squares, in dB.", "dB", "30dB"),
    30,
  ),
  feedbackParameter: optional(
    optionOf.positive("Feedback parameter C (1)."),
    1,
  ),
  linewidth: optional(
    optionOf.frequency("Linewidth of the diode, in Hz.", "20MHz"),
    20e6,
  ),
  refractiveIndex: benchOptions.refractiveIndex,
} satisfies Record<keyof PlanOptions, Option>;

/** One line of the plan. */
export interface PlanRow {
  /** What it is. */
  readonly name: string;
  /** Value, in `unit`. */
  readonly value: number;
  /** SI unit without prefix. */
  readonly unit: string;
  /** Why it matters, one sentence. */
  readonly reason: string;
}

/** The numbers of a plan. */
export interface PlanFigures {
  /** Greatest fringe rate of all that moves, in Hz; 0 where nothing does. */
  readonly fringeRate: number;
  /** Sampling rate that this needs, in Hz. */
  readonly neededSamplingRate: number;
  /** Bandwidth that this needs, in Hz. */
  readonly neededBandwidth: number;
  /** Steps on one ramp (1); `NaN` without a ramp. */
  readonly stepsPerRamp: number;
  /** Distance of one step, λ²/(2nΔλ), in m; `NaN` without a ramp. */
  readonly distancePerStep: number;
  /**
   * Standard uncertainty of the distance from one ramp by noise alone, in m;
   * `NaN` without a ramp.
   */
  readonly distanceResolution: number;
  /** Least distance with three steps on a ramp, in m; `NaN` without a ramp. */
  readonly leastDistance: number;
  /** Speed above which a ramp hides the direction, in m/s; `NaN` without one. */
  readonly criticalSpeed: number;
  /** Smallest visible motion of a single sample, in m. */
  readonly smallestMotion: number;
  /** Distance at which the fringes fade by the linewidth, in m. */
  readonly coherenceLimit: number;
}

/** What can be measured with this bench, and what limits it. */
export interface MeasurementPlan extends Result, PlanFigures {
  /** Kind of the result, by which it is shown. */
  readonly kind: "bench.plan";
  /** Which measurement can be done, and what limits it. */
  readonly verdicts: readonly PlanVerdict[];
  /** The plan as a table. */
  readonly rows: readonly PlanRow[];
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Fringe rate of the vibration, in Hz; `NaN` without one. */
    readonly vibrationRate: number;
    /** Doppler frequency of the running surface, in Hz; `NaN` without one. */
    readonly dopplerFrequency: number;
    /** Step rate on the ramp, in Hz; `NaN` without one. */
    readonly stepRate: number;
  };
}

const speedOfLight = 299_792_458;

/**
 * Plans a measurement: fringe rate 2v/λ, needed sampling rate and bandwidth,
 * steps per ramp 2nLΔλ/λ², resolution, smallest visible motion, coherence limit
 * c/(2πΔν), and which measurement is feasible.
 *
 * @param options Target, diode, ramp, recorder.
 * @returns The plan, with a verdict and a reason for each measurement.
 * @throws {RangeError} If a value is not positive.
 *
 * Source: Donati 1995 (from memory) (λ/2 per fringe); Beheim, Fritsch 1986 (steps); Shinohara
 * et al. 1992 (from memory) (critical speed); coherence from the Lorentzian line.
 *
 * @example A 1 µm sine at 100 Hz makes 1934 fringes per second at 650 nm
 * ```ts
 * import { planMeasurement } from "fringebook";
 * import { expect } from "vitest";
 *
 * const plan = planMeasurement({
 *   wavelength: 650e-9,
 *   distance: 0.2,
 *   motion: { amplitude: 1e-6, frequency: 100 },
 *   samplingRate: 48e3,
 * });
 * expect(plan.fringeRate).toBeCloseTo(1934, 0);
 * expect(plan.verdicts[0]?.feasible).toBe("yes");
 * ```
 */
export function planMeasurement(
  options: PlanOptions,
): MeasurementPlan & Shown {
  const {
    wavelength,
    distance,
    motion,
    surface,
    ramp,
    samplingRate,
    bandwidth,
    couplingCorner,
    signalToNoiseRatio,
    feedbackParameter,
    linewidth,
    refractiveIndex: n,
  } = readOptions(planSpec, options, "plan a measurement");
  const vibrationRate = motion === null
    ? NaN
    : 4 * Math.PI * n * motion.frequency * motion.amplitude / wavelength;
  const dopplerFrequency = surface === null
    ? NaN
    : 2 * n * surface.speed * Math.abs(Math.cos(surface.angle)) / wavelength;
  const span = ramp === null ? NaN : ramp.tuning * ramp.currentSpan;
  const distancePerStep = wavelength ** 2 / (2 * n * span);
  const stepsPerRamp = distance / distancePerStep;
  const stepRate = ramp === null ? NaN : 2 * stepsPerRamp * ramp.frequency;
  const rates = [vibrationRate, dopplerFrequency, stepRate].filter(
    (rate) => !Number.isNaN(rate),
  );
  const fringeRate = Math.max(0, ...rates);
  const { samples, harmonics } = neededPerFringe(feedbackParameter);
  const noise = 10 ** (-signalToNoiseRatio / 20) / Math.SQRT2;
  const figures: PlanFigures = {
    fringeRate,
    neededSamplingRate: samples * fringeRate,
    neededBandwidth: harmonics * fringeRate,
    stepsPerRamp,
    distancePerStep,
    distanceResolution: distancePerStep *
      stepNoise(noise, ramp, samplingRate),
    leastDistance: leastSteps * distancePerStep,
    criticalSpeed: stepRate * wavelength / (2 * n),
    smallestMotion: wavelength / (4 * Math.PI * n) * noise,
    coherenceLimit: speedOfLight / (2 * Math.PI * n * linewidth),
  };
  const verdicts = judge({
    ...figures,
    vibrationRate,
    dopplerFrequency,
    stepRate,
    motion,
    samplesPerFringe: samples,
    harmonics,
    distance,
    samplingRate,
    bandwidth: bandwidth ?? Infinity,
    couplingCorner: couplingCorner ?? 0,
    signalToNoiseRatio,
    feedbackParameter,
  });
  return createResult<MeasurementPlan>({
    kind: "bench.plan",
    ...figures,
    verdicts,
    rows: makeRows(figures, samples, harmonics),
    warnings: findWarnings(verdicts),
    provenance: provenance({
      method: "planMeasurement",
      options: {
        wavelength,
        distance,
        motion,
        surface,
        ramp,
        samplingRate,
        bandwidth,
        couplingCorner,
        signalToNoiseRatio,
        feedbackParameter,
        linewidth,
        refractiveIndex: n,
      },
      sources: [
        "Donati, Giuliani, Merlo 1995 (from memory)",
        "Beheim, Fritsch 1986",
        "Shinohara et al. 1992 (from memory)",
        "Rife, Boorstyn 1974",
      ],
    }),
    diagnostics: { vibrationRate, dopplerFrequency, stepRate },
  });
}

/**
 * Least standard uncertainty of the step count of one ramp of n samples:
 * sqrt(24/n) σ/A/(2π), from var(f) ≥ 24σ²fs²/[(2π)²A²n(n² - 1)] (Rife,
 * Boorstyn 1974).
 */
function stepNoise(
  noise: number,
  ramp: ReadOptions<typeof planSpec>["ramp"],
  samplingRate: number,
): number {
  if (!ramp) return NaN;
  const samples = samplingRate / (2 * ramp.frequency);
  return Math.sqrt(24 / samples) * noise / (2 * Math.PI);
}

/** Least steps on a ramp for a distance. */
const leastSteps = 3;

/**
 * Samples per fringe, and bandwidth per fringe rate: the edges of a saw-tooth
 * (C above 1) need ten, a rounded fringe four and two.
 */
function neededPerFringe(feedbackParameter: number) {
  return feedbackParameter > 1
    ? { samples: 10, harmonics: 10 }
    : { samples: 4, harmonics: 2 };
}

function makeRows(
  figures: PlanFigures,
  samples: number,
  harmonics: number,
): PlanRow[] {
  const rows: PlanRow[] = [
    {
      name: "greatest fringe rate",
      value: figures.fringeRate,
      unit: "Hz",
      reason: "One fringe for each λ/2 of way, one step for each λ²/2L of λ",
    },
    {
      name: "needed sampling rate",
      value: figures.neededSamplingRate,
      unit: "Hz",
      reason: `${samples} samples for each fringe at this C`,
    },
    {
      name: "needed bandwidth",
      value: figures.neededBandwidth,
      unit: "Hz",
      reason: `${harmonics} times the fringe rate at this C`,
    },
    {
      name: "steps per ramp",
      value: figures.stepsPerRamp,
      unit: "1",
      reason: "2nLΔλ/λ²: more steps, finer distance",
    },
    {
      name: "distance per step",
      value: figures.distancePerStep,
      unit: "m",
      reason: "λ²/(2nΔλ): what a bare whole count can tell apart",
    },
    {
      name: "distance resolution",
      value: figures.distanceResolution,
      unit: "m",
      reason: "Noise of one ramp alone, with the fraction of a step",
    },
    {
      name: "least distance",
      value: figures.leastDistance,
      unit: "m",
      reason: `${leastSteps} steps on a ramp`,
    },
    {
      name: "critical speed",
      value: figures.criticalSpeed,
      unit: "m/s",
      reason: "Faster targets turn the steps of one ramp round",
    },
    {
      name: "smallest visible motion",
      value: figures.smallestMotion,
      unit: "m",
      reason: "Noise of one sample on the slope of a fringe",
    },
    {
      name: "coherence limit",
      value: figures.coherenceLimit,
      unit: "m",
      reason: "c/(2πΔν): farther away the linewidth blurs the fringes",
    },
  ];
  return rows.filter(({ value }) => Number.isFinite(value));
}

function findWarnings(verdicts: readonly PlanVerdict[]): Warning[] {
  return verdicts
    .filter(({ feasible }) => feasible !== "yes")
    .map(({ measurement, feasible, limitedBy, reason }) =>
      warn(
        limitedBy.replaceAll(" ", "-"),
        `${measurement}: ${
          feasible === "no" ? "cannot be done" : "with care"
        }. ${reason}`,
        feasible === "no" ? "doubtful" : "note",
      )
    );
}
