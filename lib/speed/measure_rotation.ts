import type { Capture } from "../capture/mod.ts";
import {
  benchOptions,
  inputsOf,
  type Option,
  optional,
  optionOf,
  pickOptions,
  readOptions,
  requireCapture,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import {
  propagateUncertainty,
  uncertainInput,
  type UncertaintyBudget,
} from "../uncertainty/mod.ts";
import {
  measureSpeed,
  type MeasureSpeedOptions,
  measureSpeedSpec,
  type SpeedMeasurement,
} from "./measure_speed.ts";
import { type ReadSpeedInputs, speedWithBudget } from "./speed_budget.ts";
import { trackSpeed, trackSpeedSpec } from "./track_speed.ts";
import { findTurnModulation, type TurnModulation } from "./turn_modulation.ts";

/** Options of {@linkcode measureRotation}. */
export interface MeasureRotationOptions extends MeasureSpeedOptions {
  /**
   * Distance of the spot from the axis, in m, where `angle` is the one between
   * beam and velocity. For a beam that grazes a shaft in a plane across the axis
   * give the distance of the beam's line from the axis instead and leave `angle`
   * at 0: the part of the velocity along the beam is then Ω times that distance
   * wherever the beam meets the shaft.
   */
  radius: number | string;
  /**
   * Standard uncertainty of the radius, in m.
   *
   * @default {0}
   */
  radiusStandardUncertainty?: number | string;
  /**
   * Marks that pass per turn for the second way (lobes, teeth), (1): the
   * modulation is divided by it. `null` takes the whole number that fits best.
   *
   * @default {null}
   */
  marksPerTurn?: number | null;
}

export const rotationSpec = {
  ...measureSpeedSpec,
  radius: benchOptions.radius,
  radiusStandardUncertainty: benchOptions.radiusStandardUncertainty,
  marksPerTurn: optional(
    optionOf.whole("Marks that pass per turn for the second way (1).", {
      least: 1,
    }),
    null,
    "the whole number that fits best",
  ),
} satisfies Record<keyof MeasureRotationOptions, Option>;

/** Rotation of a shaft or disc, by two ways where the record allows. */
export interface RotationMeasurement extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "speed.tachometer";
  /** Turns per second from the Doppler frequency and the radius, in Hz. */
  readonly rotationRate: Quantity;
  /** The same in turns per minute, in 1/min. */
  readonly revolutionsPerMinute: Quantity;
  /**
   * Turns per second from the modulation that repeats with every turn, in Hz;
   * independent of wavelength, angle and radius. `null` where none was found.
   */
  readonly modulationRate: Quantity | null;
  /** Marks per turn by which the modulation was divided (1). */
  readonly marksPerTurn: number | null;
  /**
   * Difference of the two ways over its standard uncertainty (1); `null` where
   * there is one way only.
   */
  readonly normalisedDifference: number | null;
  /** Whether the two ways agree within twice that; `null` for one way. */
  readonly agrees: boolean | null;
  /** Speed of the surface at the spot, in m/s. */
  readonly surfaceSpeed: Quantity;
  /** What the uncertainty of the rotation rate is made of. */
  readonly budget: UncertaintyBudget;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The Doppler line. */
    readonly speed: SpeedMeasurement;
    /** The change once per turn; `null` where none was found. */
    readonly modulation: TurnModulation | null;
    /** Middle of the frames of the followed line, in s; empty if not followed. */
    readonly trackTime: Float64Array;
    /** Followed frequency, in Hz. */
    readonly trackFrequency: Float64Array;
    /** The same, smoothed over neighbouring frames, in Hz. */
    readonly smoothedFrequency: Float64Array;
    /** Its standard uncertainty from the scatter of the frames, in Hz. */
    readonly smoothedStandardUncertainty: Float64Array;
  };
}

const task = "measure a rotation";

/**
 * Tachometer: rotation rate from the Doppler frequency, v / (2π r), and where
 * the surface runs out of round, a second time from the modulation that repeats
 * with every turn.
 *
 * @param capture A capture with a monitor signal.
 * @param options Wavelength, angle, radius and their uncertainties.
 * @returns Rotation rate in Hz and 1/min, both ways, their agreement.
 * @throws {NotMeasurableError} If there is no Doppler line.
 * @throws {RangeError} If an option is out of range.
 *
 * @example
 * ```ts
 * import { measureRotation, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const along = 2 * Math.PI * 1 * 0.02 * Math.cos(1.4);
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + along * time,
 *   samplingRate: 500_000,
 *   duration: 0.05,
 * });
 * const { rotationRate } = measureRotation(capture, {
 *   wavelength: 650e-9,
 *   angle: 1.4,
 *   radius: 0.02,
 * });
 * expect(rotationRate.value).toBeCloseTo(1, 3);
 * ```
 */
export function measureRotation(
  capture: Capture,
  options: MeasureRotationOptions,
): RotationMeasurement & Shown {
  requireCapture(capture, task);
  const read = readOptions(rotationSpec, options, task);
  const { radius, radiusStandardUncertainty, marksPerTurn } = read;
  const measured = measureSpeed(
    capture,
    pickOptions(measureSpeedSpec, options),
  );
  const track = followed(capture, options, measured);
  const modulation = track === null
    ? null
    : findTurnModulation(track.frequency, track.frameRate, track.repetition);
  const swings = modulation !== null &&
    modulation.depth * modulation.meanFrequency >
      0.2 * Math.max(measured.lineWidth.value, 1 / track!.duration);
  // A line swept by the turning is not a line of one form: use its mean.
  const surfaceSpeed = swings
    ? speedWithBudget(
      quantity(
        modulation.meanFrequency,
        modulation.meanStandardUncertainty,
        "Hz",
      ),
      read,
      task,
    ).speed
    : measured.speed;
  const budget = rotationBudget(
    surfaceSpeed,
    radius,
    radiusStandardUncertainty,
  );
  const rate = budget.output;
  const second = secondWay(modulation, rate, marksPerTurn, read);
  const warnings: Warning[] = measured.warnings.filter(({ code }) =>
    !(swings && ["line-shape", "unsteady", "two-targets"].includes(code))
  );
  if (second?.agrees === false) {
    warnings.push(warn(
      "ways-disagree",
      `The two ways differ by ${
        second.normalisedDifference.toFixed(1)
      } times their standard uncertainty: check radius, angle and wavelength, or how many marks pass per turn`,
    ));
  }
  return createResult<RotationMeasurement>({
    kind: "speed.tachometer",
    rotationRate: rate,
    revolutionsPerMinute: quantity(
      60 * rate.value,
      60 * rate.standardUncertainty,
      "1/min",
      rate,
    ),
    modulationRate: second?.rate ?? null,
    marksPerTurn: second?.marks ?? null,
    normalisedDifference: second?.normalisedDifference ?? null,
    agrees: second?.agrees ?? null,
    surfaceSpeed,
    budget,
    warnings,
    provenance: provenance({
      method: "measureRotation",
      captures: [capture.source],
      options: {
        ...measured.provenance.options,
        radius,
        radiusStandardUncertainty,
        marksPerTurn,
      },
      inputs: [
        ...measured.provenance.inputs,
        ...inputsOf(rotationSpec, options, read, ["radius"]),
      ],
      sources: measured.provenance.sources,
    }),
    diagnostics: {
      speed: measured,
      modulation,
      trackTime: track?.time ?? new Float64Array(0),
      trackFrequency: track?.frequency ?? new Float64Array(0),
      smoothedFrequency: track?.smoothed ?? new Float64Array(0),
      smoothedStandardUncertainty: track?.standardUncertainty ??
        new Float64Array(0),
    },
  });
}

interface Followed {
  readonly time: Float64Array;
  readonly frequency: Float64Array;
  readonly smoothed: Float64Array;
  readonly standardUncertainty: Float64Array;
  readonly frameRate: number;
  readonly repetition: number;
  readonly duration: number;
}

/** The line followed over the record; `null` for a record too short for it. */
function followed(
  capture: Capture,
  options: MeasureRotationOptions,
  measured: SpeedMeasurement,
): Followed | null {
  const { sampleCount, samplingRate } = capture;
  if (sampleCount < 1 << 14) return null;
  const centre = measured.dopplerFrequency.value;
  const track = trackSpeed(capture, {
    ...pickOptions(trackSpeedSpec, options),
    // An out-of-round of up to 40 % of the radius.
    searchBand: {
      low: 0.6 * centre,
      high: Math.min(1.4 * centre, 0.49 * samplingRate),
    },
  });
  const { hop, segmentLength } = track.diagnostics;
  const perHertz = track.scale.value;
  return {
    time: track.time,
    frequency: track.frequency,
    smoothed: track.speed.map((speed) => speed / perHertz),
    standardUncertainty: track.speedStandardUncertainty.map((u) =>
      u / perHertz
    ),
    frameRate: samplingRate / hop,
    repetition: segmentLength / hop,
    duration: sampleCount / samplingRate,
  };
}

function rotationBudget(
  speed: Quantity,
  radius: number,
  radiusStandardUncertainty: number,
): UncertaintyBudget {
  return propagateUncertainty(
    (values) => values["surface speed"]! / (2 * Math.PI * values["radius"]!),
    [
      uncertainInput("surface speed", speed.value, {
        standardUncertainty: speed.standardUncertainty,
        degreesOfFreedom: speed.degreesOfFreedom,
        unit: "m/s",
      }),
      uncertainInput("radius", radius, {
        standardUncertainty: radiusStandardUncertainty,
        unit: "m",
      }),
    ],
    { unit: "Hz" },
  );
}

function secondWay(
  modulation: TurnModulation | null,
  rate: Quantity,
  marksPerTurn: number | null,
  { clockRelativeStandardUncertainty }: ReadSpeedInputs,
): {
  rate: Quantity;
  marks: number;
  normalisedDifference: number;
  agrees: boolean;
} | null {
  if (modulation === null) return null;
  const marks = marksPerTurn ??
    Math.max(1, Math.round(modulation.frequency / rate.value));
  const clock = clockRelativeStandardUncertainty;
  const value = modulation.frequency / marks;
  const own = modulation.standardUncertainty / marks;
  const difference = rate.value - value;
  const normalisedDifference = Math.abs(difference) /
    Math.hypot(rate.standardUncertainty, own);
  return {
    // The clock is common to both ways: it counts here, not in the difference.
    rate: quantity(value, Math.hypot(own, clock * value), "Hz"),
    marks,
    normalisedDifference,
    agrees: normalisedDifference <= 2,
  };
}
