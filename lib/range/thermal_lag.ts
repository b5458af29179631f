import { type Capture, requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { readOptions, requireCapture } from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
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
import { fitFringes } from "./fringe_fit.ts";
import { driveOf, lagging, wholeDrive } from "./drive.ts";
import { joinValues } from "../memory/mod.ts";
import {
  type FindRampsOptions,
  type Ramps,
  type RampSettings,
  rampsOf,
  rampSpec,
} from "./ramps.ts";
import { strokeSignal } from "./count_ramp.ts";
import { fitWaveform } from "./stroke_fitter.ts";
import { median } from "./stroke_selection.ts";
import { joinStrokes, removePowerRamp } from "./stroke_signal.ts";

/** How long the wavelength takes to follow the current. */
export interface ThermalLag extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "range.thermalLag";
  /** Time constant, in s; 0 where no lag stands out of the noise. */
  readonly timeConstant: Quantity;
  /** Whether a lag describes the capture better than none. */
  readonly significant: boolean;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Time constants tried, in s. */
    readonly timeConstants: readonly number[];
    /** Mean square of what the fringes leave at each, over that without lag. */
    readonly misfits: readonly number[];
  };
}

/**
 * Estimates the time constant of the thermal lag from the bend of the fringes
 * against current: the value with which fringes against the lagging current are
 * most even. Needs several steps on the ramp.
 *
 * @param capture The capture, as for {@linkcode measureSteps}.
 * @param options As for {@linkcode findRamps}.
 * @returns The time constant, and whether there is a lag at all.
 * @throws {NotMeasurableError} If there is no ramp or there are no fringes.
 *
 * @example
 * ```ts
 * import {
 *   estimateThermalLag,
 *   rampCurrent,
 *   simulateCapture,
 * } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: 0.1,
 *   current: rampCurrent({ low: 0.036, high: 0.044, frequency: 50 }),
 *   samplingRate: 50e3,
 *   duration: 0.05,
 *   feedbackParameter: 0.3,
 *   diode: { thermalTimeConstant: 0.5e-3 },
 * });
 * const { timeConstant } = estimateThermalLag(capture);
 * expect(timeConstant.value * 1e3).toBeCloseTo(0.5, 1);
 * ```
 */
export function estimateThermalLag(
  capture: Capture,
  options: FindRampsOptions = {},
): ThermalLag & Shown {
  const task = "estimate a thermal lag";
  requireCapture(capture, task);
  return searchThermalLag(
    capture,
    readOptions(rampSpec, options, task),
    8,
    true,
  );
}

/**
 * {@linkcode estimateThermalLag} on the first strokes, given up early where a few
 * time constants show nothing, but for `whole`.
 */
export function searchThermalLag(
  capture: Capture,
  options: RampSettings,
  mostStrokes: number,
  whole = false,
): ThermalLag & Shown {
  const monitor = requireChannel(capture, "monitor signal");
  const ramps = rampsOf(capture, { ...options, thermalTimeConstant: 0 });
  const stroke = ramps.strokeDuration;
  const drive = wholeDrive(
    rampsOf(capture, { ...options, thermalTimeConstant: 0, turnRound: 0 }),
    driveOf(capture, options),
  );
  const misfitAt = createMisfit(
    capture,
    monitor.samples,
    ramps,
    drive,
    mostStrokes,
  );
  const none = misfitAt(0);
  const timeConstants: number[] = [];
  const misfits: number[] = [];
  const shortest = Math.max(1 / capture.samplingRate, stroke / 300);
  // A few time constants tell whether there is anything to look for.
  const samples = strokesSamples(ramps, mostStrokes);
  const trials = whole
    ? [0]
    : [0.01, 0.03, 0.1, 0.3].map((part) => misfitAt(part * stroke));
  const hopeless = !whole && none / Math.min(...trials) - 1 < 3 / samples;
  const longest = hopeless ? 1.1 * shortest : 1.5 * stroke;
  for (let tau = shortest; tau < longest; tau *= 1.6) {
    checkpoint(timeConstants.length / 16, "thermal lag");
    timeConstants.push(tau);
    misfits.push(misfitAt(tau));
  }
  const best = misfits.indexOf(Math.min(...misfits));
  let low = Math.log(timeConstants[Math.max(0, best - 1)]!);
  let high = Math.log(timeConstants[Math.min(misfits.length - 1, best + 1)]!);
  const golden = (Math.sqrt(5) - 1) / 2;
  let left = high - golden * (high - low);
  let right = low + golden * (high - low);
  let [atLeft, atRight] = [misfitAt(Math.exp(left)), misfitAt(Math.exp(right))];
  while (high - low > 0.01) {
    checkpoint(0.9, "thermal lag");
    if (atLeft < atRight) {
      [high, right, atRight] = [right, left, atLeft];
      left = high - golden * (high - low);
      atLeft = misfitAt(Math.exp(left));
    } else {
      [low, left, atLeft] = [left, right, atRight];
      right = low + golden * (high - low);
      atRight = misfitAt(Math.exp(right));
    }
  }
  const found = Math.exp((low + high) / 2);
  const least = Math.min(atLeft, atRight);
  const significant = none / least - 1 > 40 / samples;
  // Curvature of the misfit in log τ gives the uncertainty from noise; the
  // model itself (one pole, no jumps) is trusted to 2 %.
  const side = Math.min(misfitAt(found * 1.2), misfitAt(found / 1.2));
  const uncertainty = significant && side > least
    ? found * Math.hypot(
      0.2 * Math.sqrt(least / (side - least) / samples),
      0.02,
    )
    : NaN;
  const warnings: Warning[] = [];
  if (!significant) {
    warnings.push(warn(
      "no-lag",
      "The fringes are as even against the current itself: no thermal lag stands out of the noise",
      "note",
    ));
  }
  return createResult({
    kind: "range.thermalLag" as const,
    timeConstant: quantity(significant ? found : 0, uncertainty, "s"),
    significant,
    warnings,
    provenance: provenance({
      method: "estimateThermalLag",
      captures: [capture.source],
      options: { strokeDuration: stroke },
    }),
    diagnostics: {
      timeConstants,
      misfits: misfits.map((misfit) => misfit / none),
    },
  });
}

/** Samples that the misfit rests on. */
function strokesSamples(ramps: Ramps, mostStrokes: number): number {
  return ramps.diagnostics.strokes.slice(0, mostStrokes)
    .reduce((sum, { current }) => sum + current.length, 0);
}

/** Mean square residual of straight fringes against the lagging current. */
function createMisfit(
  capture: Capture,
  samples: ArrayLike<number>,
  ramps: Ramps,
  drive: Float64Array,
  mostStrokes: number,
): (timeConstant: number) => number {
  const low = ramps.lowCurrent.value;
  const span = ramps.highCurrent.value - low;
  const single = ramps.diagnostics.strokes.slice(0, mostStrokes)
    .flatMap((stroke) => {
      checkpoint(NaN, "thermal lag");
      const signal = strokeSignal(samples, stroke, low, span);
      const fit = signal === null || signal.x.length !== stroke.current.length
        ? null
        : fitWaveform(signal, NaN);
      return fit === null || signal === null
        ? []
        : [{ strokes: [stroke], signal, steps: fit.steps }];
    });
  // Few steps: a rising and a falling stroke together tell a lag from a bend.
  const joined = median(single.map(({ steps }) => steps)) < 4
    ? single.slice(1).flatMap((next, k) => {
      const last = single[k]!;
      return k % 2 === 0 &&
          last.strokes[0]!.direction !== next.strokes[0]!.direction
        ? [{
          strokes: [...last.strokes, ...next.strokes],
          signal: joinStrokes(last.signal, next.signal),
          steps: (last.steps + next.steps) / 2,
        }]
        : [];
    })
    : [];
  const strokes = (joined.length > 0 ? joined : single).map((one) => {
    checkpoint(NaN, "thermal lag");
    return { ...one, flat: removePowerRamp(one.signal) };
  });
  if (strokes.length === 0) {
    throw new NotMeasurableError(
      "no fringes",
      "Cannot estimate a thermal lag as no stroke shows fringes above its noise",
    );
  }
  return (timeConstant) => {
    const lagged = lagging(drive, timeConstant * capture.samplingRate, 1);
    let total = 0;
    for (const { strokes: parts, signal, flat, steps } of strokes) {
      checkpoint(NaN, "thermal lag");
      const along = joinValues(
        parts.map(({ start, end }) => lagged.slice(start, end)),
      ).map((value) => 2 * (value - low) / span - 1);
      const start = strongestRate(flat, along, steps);
      const fit = fitFringes(signal, start, along, 2);
      total += fit === null ? Infinity : fit.noise ** 2;
    }
    return total / strokes.length;
  };
}

/** The rate near a guess at which fringes along a variable are strongest. */
function strongestRate(
  flat: Float64Array,
  along: Float64Array,
  guess: number,
): number {
  let best = guess;
  let strongest = 0;
  const reach = Math.max(1.5, 0.3 * guess);
  for (let steps = guess - reach; steps <= guess + reach; steps += 0.2) {
    let real = 0;
    let imaginary = 0;
    for (let i = 0; i < flat.length; i++) {
      if ((i & 0xffff) === 0) checkpoint(NaN, "seek the lag");
      const angle = Math.PI * steps * along[i]!;
      real += flat[i]! * Math.cos(angle);
      imaginary += flat[i]! * Math.sin(angle);
    }
    const power = real * real + imaginary * imaginary;
    if (power > strongest) [best, strongest] = [steps, power];
  }
  return best;
}
