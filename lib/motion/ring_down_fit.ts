import { NotMeasurableError } from "../errors/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { quantity } from "../result/mod.ts";
import type { Displacement } from "./measure_displacement.ts";
import type { RingDownMode } from "./measure_ring_down.ts";
import {
  adviceOnDoubt,
  fitMotionModel,
  type MotionModel,
  type MotionModelFit,
  withoutFalseCertainty,
} from "./motion_model_fit.ts";
import { usualRows } from "./motion_rows.ts";
import type { DecaySpan } from "./ring_down_releases.ts";
import { startsOfRingDown } from "./ring_down_start.ts";

/** How a decay is fitted. */
interface DecaySettings {
  readonly modes: 1 | 2 | "auto";
  readonly settlingBand: number;
}

/** A decay with what was fitted to it. */
export interface FittedDecay {
  readonly fit: MotionModelFit;
  /** The same with uncertainties that say what was lost. */
  readonly reported: MotionModelFit & { readonly determined: boolean };
  /** Modes fitted. */
  readonly count: number;
  /** The modes, the stronger first. */
  readonly modes: readonly RingDownMode[];
  /** Where the fit starts, in s. */
  readonly startTime: number;
  /** Periods of the stronger mode in it (1). */
  readonly periods: number;
}

/** Fits each decay; those that are none are counted, with the reason of the first. */
export function fitDecays(
  displacement: Displacement,
  spans: readonly DecaySpan[],
  settings: DecaySettings,
): {
  fits: FittedDecay[];
  failed: number;
  reason: NotMeasurableError | null;
} {
  const fits: FittedDecay[] = [];
  let failed = 0;
  let reason: NotMeasurableError | null = null;
  spans.forEach((span, k) => {
    checkpoint(k / spans.length, "fit the ring-down");
    try {
      fits.push(fitDecay(displacement, span, settings));
    } catch (error) {
      if (!(error instanceof NotMeasurableError)) throw error;
      failed++;
      reason ??= error;
    }
  });
  return { fits, failed, reason };
}

function fitDecay(
  displacement: Displacement,
  { first, end }: DecaySpan,
  { modes, settlingBand }: DecaySettings,
): FittedDecay {
  const { samplingRate } = displacement;
  const n = end;
  const origin = first / samplingRate;
  const tail = displacement.displacement.subarray(first, end);
  const refined = ({ parameters }: MotionModelFit) =>
    fitModes(
      displacement,
      parameters,
      first,
      n,
      origin,
      rowsFor(parameters, (n - first) / samplingRate, usualRows, 256),
    );
  let count = 1;
  const one = chooseMode(displacement, null, tail, first, origin);
  let fit = refined(one);
  if (modes === 2 || (modes === "auto" && fit.excess > 1.5)) {
    const two = chooseMode(displacement, fit, tail, first, origin);
    const helps = (both: MotionModelFit, single: MotionModelFit) =>
      modes === 2 || both.excess < 0.7 * single.excess;
    const both = helps(two, one) ? refined(two) : null;
    if (both !== null && helps(both, fit)) {
      fit = both;
      count = 2;
    }
  }
  const { wavelength, wavelengthStandardUncertainty } =
    displacement.diagnostics;
  const isSeen = ({ amplitude }: RingDownMode) =>
    amplitude.value > 3 * amplitude.standardUncertainty;
  const modesOf = (fit: MotionModelFit) => {
    const all = Array.from(
      { length: count },
      (_, m) =>
        modeOf(
          fit,
          m,
          settlingBand,
          wavelengthStandardUncertainty / wavelength,
        ),
    ).sort((a, b) => b.amplitude.value - a.amplitude.value);
    // What follows a slow drift is no mode.
    const seen = all.filter(isSeen);
    return seen.length > 0 ? seen : all;
  };
  const found = modesOf(fit)[0]!;
  const duration = (n - first) / samplingRate;
  const periods = found.naturalFrequency.value * duration;
  if (!isSeen(found) || periods < 0.5) {
    const doubtful = displacement.diagnostics.doubtfulSamples;
    throw new NotMeasurableError(
      "no ring-down",
      doubtful > 0
        ? `Cannot measure a ring-down as the phase of the fringes was lost in ${doubtful} of ${n} samples and no decay fits what was found: ${adviceOnDoubt}`
        : `Cannot measure a ring-down as nothing oscillates after ${origin} s: give 'start', or record from the release on`,
    );
  }
  const reported = withoutFalseCertainty(fit, displacement);
  return {
    fit,
    reported,
    count,
    modes: modesOf(reported),
    startTime: origin,
    periods,
  };
}

/** Weighted mean of the decays' stronger modes, widened where they differ. */
export function meanMode(
  fits: readonly FittedDecay[],
): RingDownMode & { readonly ratio: number } {
  const of = (
    name: "naturalFrequency" | "dampingRatio" | "settlingTime",
  ) => {
    const all = fits.map(({ modes }) => modes[0]![name]);
    let weight = 0, sum = 0, chiSquare = 0;
    for (const { value, standardUncertainty } of all) {
      weight += 1 / standardUncertainty ** 2;
      sum += value / standardUncertainty ** 2;
    }
    const mean = sum / weight;
    for (const { value, standardUncertainty } of all) {
      chiSquare += ((value - mean) / standardUncertainty) ** 2;
    }
    const ratio = Math.sqrt(chiSquare / (all.length - 1));
    const u = Math.max(1, ratio) / Math.sqrt(weight);
    return { quantity: quantity(mean, u, all[0]!.unit), ratio };
  };
  const frequency = of("naturalFrequency");
  const damping = of("dampingRatio");
  const { value: zeta, standardUncertainty: u } = damping.quantity;
  const { value: f, standardUncertainty: uf } = frequency.quantity;
  const root = Math.sqrt(1 - zeta * zeta);
  const strongest = fits.reduce((a, b) =>
    b.modes[0]!.amplitude.value > a.modes[0]!.amplitude.value ? b : a
  );
  return {
    naturalFrequency: frequency.quantity,
    dampingRatio: damping.quantity,
    qualityFactor: quantity(1 / (2 * zeta), u / (2 * zeta * zeta), "1"),
    dampedFrequency: quantity(
      f * root,
      Math.hypot(uf * root, f * zeta / root * u),
      "Hz",
    ),
    amplitude: strongest.modes[0]!.amplitude,
    settlingTime: of("settlingTime").quantity,
    ratio: Math.max(frequency.ratio, damping.ratio),
  };
}

/** Rows on which starts are compared, at least. */
const rowsToChoose = 2048;
const mostRows = 1 << 18;

/** Rows of a fit that has so many of them in each period of its fastest mode. */
function rowsFor(
  parameters: readonly number[],
  duration: number,
  least: number,
  perPeriod: number,
): number {
  let fastest = 0;
  for (let i = 1; i < parameters.length; i += 4) {
    fastest = Math.max(fastest, parameters[i]!);
  }
  return Math.min(
    mostRows,
    Math.max(least, Math.ceil(perPeriod * fastest * duration)),
  );
}

/**
 * The best fit to few rows, from several starts, of one mode more than `known`
 * has; its starts are looked for in what that leaves.
 */
function chooseMode(
  displacement: Displacement,
  known: MotionModelFit | null,
  tail: Float64Array,
  first: number,
  origin: number,
): MotionModelFit {
  const { samplingRate } = displacement;
  const before = known === null ? [] : [...known.parameters];
  const model = modeModel((before.length - 1) / 4, origin);
  const left = known === null ? tail : new Float64Array(tail.length);
  if (known !== null) {
    for (let i = 0; i < tail.length; i++) {
      if ((i & 0x3fff) === 0x3fff) checkpoint();
      left[i] = tail[i]! - model.value(before, origin + i / samplingRate);
    }
  }
  const end = first + tail.length;
  let best: MotionModelFit | null = null;
  for (const { endValue, mode } of startsOfRingDown(left, samplingRate)) {
    const start = [(before[0] ?? 0) + endValue, ...before.slice(1), ...mode];
    const rows = rowsFor(
      start,
      tail.length / samplingRate,
      rowsToChoose,
      16,
    );
    const fit = fitModes(displacement, start, first, end, origin, rows);
    if (best === null || fit.excess < best.excess) best = fit;
    // Nothing but noise is left: no other start does better.
    if (best.converged && best.excess < 1.1) break;
  }
  if (best === null) {
    throw new NotMeasurableError(
      "no ring-down",
      `Cannot measure a ring-down as too few samples count after ${origin} s: give 'start', or record from the release on`,
    );
  }
  return best;
}

function fitModes(
  displacement: Displacement,
  start: readonly number[],
  first: number,
  n: number,
  origin: number,
  mostRows: number,
): MotionModelFit {
  const modes = (start.length - 1) / 4;
  const bound = (frequency: number, damping: number, other: number) => [
    other,
    ...Array.from({ length: modes }, () => [frequency, damping, other, other])
      .flat(),
  ];
  return fitMotionModel(
    displacement,
    modeModel(modes, origin),
    start,
    first,
    n - 1,
    {
      lower: bound(0, 0, -Infinity),
      upper: bound(displacement.samplingRate / 2, 0.999, Infinity),
      mostRows,
    },
  );
}

/** Parameters: x∞, then f0, ζ, a, b per mode. */
function modeModel(modes: number, origin: number): MotionModel {
  const part = (p: readonly number[], m: number, time: number) => {
    const omega = 2 * Math.PI * p[1 + 4 * m]!;
    const zeta = p[2 + 4 * m]!;
    const root = Math.sqrt(Math.max(1e-12, 1 - zeta * zeta));
    const decay = Math.exp(-zeta * omega * time);
    const c = decay * Math.cos(omega * root * time);
    const s = decay * Math.sin(omega * root * time);
    return { omega, zeta, root, c, s };
  };
  return {
    value: (p, time) => {
      let sum = p[0]!;
      for (let m = 0; m < modes; m++) {
        const { c, s } = part(p, m, time - origin);
        sum += p[3 + 4 * m]! * c + p[4 + 4 * m]! * s;
      }
      return sum;
    },
    derivatives: (p, time, into) => {
      const t = time - origin;
      into[0] = 1;
      for (let m = 0; m < modes; m++) {
        const { omega, zeta, root, c, s } = part(p, m, t);
        const a = p[3 + 4 * m]!;
        const b = p[4 + 4 * m]!;
        const value = a * c + b * s;
        const turned = b * c - a * s;
        into[1 + 4 * m] = 2 * Math.PI * t * (root * turned - zeta * value);
        into[2 + 4 * m] = omega * t * (-zeta / root * turned - value);
        into[3 + 4 * m] = c;
        into[4 + 4 * m] = s;
      }
    },
  };
}

function modeOf(
  fit: MotionModelFit,
  m: number,
  band: number,
  relative: number,
): RingDownMode {
  const i = 1 + 4 * m;
  const [f, z, a, b] = fit.parameters.slice(i, i + 4) as [
    number,
    number,
    number,
    number,
  ];
  const v = (j: number, k: number) => fit.covariance[i + j]![i + k]!;
  const uf = Math.sqrt(v(0, 0));
  const uz = Math.sqrt(v(1, 1));
  const root = Math.sqrt(1 - z * z);
  const amplitude = Math.hypot(a, b);
  const along = Math.sqrt(
    Math.max(0, a * a * v(2, 2) + 2 * a * b * v(2, 3) + b * b * v(3, 3)),
  ) / amplitude;
  const damped = f * root;
  const byZ = -f * z / root;
  const omega = 2 * Math.PI * f;
  const settling = -Math.log(band * root) / (z * omega);
  // d/dz of -ln(band sqrt(1-z²))/(zω).
  const settlingByZ = (z / (1 - z * z)) / (z * omega) - settling / z;
  const settlingByF = -settling / f;
  const carried = (byF: number, byDamping: number) =>
    Math.sqrt(Math.max(
      0,
      byF * byF * v(0, 0) + 2 * byF * byDamping * v(0, 1) +
        byDamping * byDamping * v(1, 1),
    ));
  return {
    naturalFrequency: quantity(f, uf, "Hz"),
    dampingRatio: quantity(z, uz, "1"),
    qualityFactor: quantity(1 / (2 * z), uz / (2 * z * z), "1"),
    dampedFrequency: quantity(damped, carried(root, byZ), "Hz"),
    amplitude: quantity(
      amplitude,
      Math.hypot(along, amplitude * relative),
      "m",
    ),
    settlingTime: quantity(settling, carried(settlingByF, settlingByZ), "s"),
  };
}
