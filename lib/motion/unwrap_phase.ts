import { checkpoint } from "../progress/mod.ts";
import { detectFringes, type Detection, directionsOf } from "./detection.ts";
import {
  labelsOf,
  nearestExtremes,
  otherReadings,
  type Reading,
} from "./hypotheses.ts";
import { cutLabels } from "./cut_labels.ts";
import { fillGaps } from "./gaps.ts";
import { fringeModel } from "./fringe_model.ts";
import { jumpLabels, labelBetween } from "./jump_labels.ts";
import { fitPhase, type FringeParameters, type PhaseFit } from "./phase_fit.ts";
import type { PhaseLabels } from "./phase_labels.ts";
import { findMisfits, tracePhase } from "./phase_residuals.ts";
import { phaseAt } from "./phase_system.ts";

/** φ0 of a record, and how it was read. */
export interface Unwrapped {
  readonly fit: PhaseFit;
  readonly reading: Reading;
  readonly detection: Detection;
}

/** Logarithmic asymmetries of the legs that are tried. */
const triedAsymmetries = [null, 0, 0.4, 0.9, 1.5] as const;
const triedShares = [0.5, 0.3, 0.7] as const;
const mostReadings = 8;
const mostRounds = 5;
const mostFailures = 4;
/**
 * Distances of knots at which wrong readings are looked for: multiples of the
 * fit's own, and at least so many of the shortest half fringes.
 */
const triedStiffness = [
  { knots: 1, legs: 0 },
  { knots: 2.5, legs: 2 },
  { knots: 6, legs: 5 },
] as const;

/**
 * Unwraps a record without knowing the feedback: reads it in several ways, fits
 * each, keeps the one that leaves least, mends the places that do not fit, and
 * chooses the knots by the Akaike criterion.
 *
 * @param signal The signal.
 * @param mends Whether places that do not fit are read anew, which takes time.
 * @returns φ0, feedback and levels, or `null` if there is no fringe.
 */
export function unwrapPhase(
  signal: Float64Array,
  mends = true,
): Unwrapped | null {
  const filled = signal.includes(NaN) ? fillGaps(signal) : signal;
  const detection = detectFringes(filled);
  if (detection === null) return null;
  // At both ends the target may turn where too little is seen to tell; the
  // first fits leave the ends out.
  const inner = withoutEnds(signal, detection);
  let best: { reading: Reading; fit: PhaseFit } | null = null;
  search: for (const reading of readRecord(filled, detection)) {
    for (const { spacing, feedback } of starts(signal, detection, reading)) {
      const fit = fitReading(
        inner,
        detection,
        reading,
        spacing,
        null,
        8,
        feedback,
      );
      if (best !== null && !(score(fit) < score(best.fit))) continue;
      best = { reading, fit };
      if (fitsNoise(fit, detection)) break search;
    }
  }
  if (best === null) return null;
  let { reading } = best;
  let fit = chooseSpacing(inner, detection, reading, best.fit, mends);
  if (inner !== signal && mends) {
    reading = settleEnds(signal, detection, reading, fit);
    fit = fitAnew(signal, detection, reading, fit.parameters);
  }
  for (let round = 0; mends && round < mostRounds; round++) {
    // A stiff spline that leaves only noise has nothing to hide.
    if (fitsNoise(fit, detection) && fit.spacing > 6 * detection.fastest) break;
    let mended: Reading | null = null;
    for (const { knots, legs } of triedStiffness) {
      const spacing = Math.round(
        Math.max(fit.spacing * knots, detection.fastest * legs),
      );
      if (spacing > signal.length / 4) continue;
      const stiff = spacing === fit.spacing
        ? fit
        : fitReading(signal, detection, reading, spacing, fit.parameters, 8);
      mended = mend(signal, detection, reading, stiff);
      if (mended !== null) break;
    }
    if (mended === null) break;
    const next = fitAnew(signal, detection, mended, fit.parameters);
    if (!(score(next) < score(fit))) break;
    reading = mended;
    fit = next;
  }
  if (fit.parameters.q < 0) {
    reading = reversed(reading, signal.length);
    fit = reversedFit(fit, labelsOf(reading, detection, signal.length));
  }
  return { fit, reading, detection };
}

/** The same reading with the motion the other way round. */
function reversed(reading: Reading, sampleCount: number): Reading {
  return reading.kind === "smooth"
    ? { ...reading, direction: reading.direction.map((way) => -way) }
    : {
      kind: "jumps",
      labels: labelBetween(
        reading.labels.jumps.map((jump) => ({ ...jump, sign: -jump.sign })),
        sampleCount,
      ),
    };
}

/** The same signal read with the motion the other way round: ψ becomes -ψ. */
function reversedFit(fit: PhaseFit, labels: PhaseLabels): PhaseFit {
  const { parameters, coefficients, covariance, free } = fit;
  const q = free.indexOf(1);
  const count = free.length;
  return {
    ...fit,
    coefficients: coefficients.map((value) => -value),
    parameters: { ...parameters, q: -parameters.q },
    model: fringeModel(
      parameters.p,
      -parameters.q,
      fit.noise / parameters.amplitude,
    ),
    covariance: covariance.map((value, i) =>
      (Math.floor(i / count) === q) !== (i % count === q) ? -value : value
    ),
    coupling: fit.coupling.map((column, a) =>
      a === q ? column : column.map((value) => -value)
    ),
    labels: { ...labels, firstBranch: -fit.labels.firstBranch },
  };
}

const noTurns = { turnsAtFirst: false, turnsAtLast: false };
const endExtremes = 3;

/** The signal with what lies outside of the third extreme from each end left out. */
function withoutEnds(
  signal: Float64Array,
  detection: Detection,
): Float64Array {
  const { index } = detection.extremes;
  if (index.length < 6 * endExtremes) return signal;
  const inner = signal.slice();
  inner.fill(NaN, 0, index[endExtremes - 1]!);
  inner.fill(NaN, index[index.length - endExtremes]! + 1);
  return inner;
}

/** The reading of both ends that leaves least, feedback held. */
function settleEnds(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  fit: PhaseFit,
): Reading {
  const { index } = detection.extremes;
  const count = index.length;
  const reach = 3 * endExtremes;
  // A loose spline follows any reading; a stiff one tells them apart.
  const spacing = Math.max(fit.spacing, Math.round(4 * detection.fastest));
  let current = reading;
  for (const atStart of [true, false]) {
    const place = atStart ? index[1]! : index[count - 2]!;
    const inside = atStart ? index[reach]! : index[count - 1 - reach]!;
    const from = atStart ? 0 : Math.max(0, inside - 2 * spacing);
    const to = atStart
      ? Math.min(signal.length, inside + 2 * spacing)
      : signal.length;
    let least = 0.9 *
      localSquares(signal, detection, current, fit, from, to, spacing);
    let best = current;
    for (
      const other of otherReadings(current, signal, detection, place, place)
    ) {
      const squares = localSquares(
        signal,
        detection,
        other,
        fit,
        from,
        to,
        spacing,
      );
      if (squares < least) {
        least = squares;
        best = other;
      }
    }
    current = best;
  }
  return current;
}

/** The readings worth a fit, each once. */
function readRecord(signal: Float64Array, detection: Detection): Reading[] {
  const readings: Reading[] = [];
  const seen = new Set<string>();
  const add = (reading: Reading, key: string) => {
    if (seen.has(key)) return;
    seen.add(key);
    readings.push(reading);
  };
  for (const asymmetry of triedAsymmetries) {
    const { direction } = directionsOf(detection, asymmetry);
    add(
      { kind: "smooth", direction, ends: noTurns },
      `s${direction.join()}`,
    );
  }
  const width = Math.max(1, Math.floor(detection.fastest / 8));
  for (const share of triedShares) {
    const labels = jumpLabels(signal, detection.extremes, width, share);
    if (labels === null) continue;
    const key = labels.jumps.map(({ first, sign }) => first * sign).join();
    add({ kind: "jumps", labels }, `j${key}`);
  }
  // So little motion that φF stays on one branch.
  if (detection.extremes.index.length < 40) {
    add({ kind: "jumps", labels: labelBetween([], signal.length) }, "j");
  }
  return readings.slice(0, mostReadings);
}

/** Knots and feedback that are tried first; `null` takes it from the labels. */
function starts(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
): { spacing: number; feedback: number | null }[] {
  const feedbacks = reading.kind === "jumps" ? [null, 2, 5] : [null];
  return feedbacks.flatMap((feedback) =>
    firstSpacings(signal, detection).map((spacing) => ({ spacing, feedback }))
  );
}

/** Samples between knots that are tried first: stiff splines before loose. */
function firstSpacings(signal: Float64Array, detection: Detection): number[] {
  const most = Math.max(4, Math.floor(signal.length / 6));
  const all = [24, 6, 1.5].map((factor) =>
    Math.max(4, Math.min(most, Math.round(factor * detection.fastest)))
  );
  return [...new Set(all)];
}

/** Whether a fit leaves no more than the noise that was seen beforehand. */
export function fitsNoise(fit: PhaseFit, detection: Detection): boolean {
  const { amplitude } = fit.parameters;
  return fit.settled &&
    fit.noise < 1.05 * detection.scale.noise + 0.002 * amplitude &&
    fit.effectiveSamples > 2 * fit.coefficients.length;
}

function fitReading(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  spacing: number,
  parameters: FringeParameters | null,
  iterations: number,
  startFeedback: number | null = null,
  coefficients: Float64Array | null = null,
): PhaseFit {
  const { middle, amplitude, noise } = detection.scale;
  const feedback = startFeedback ?? (reading.kind === "jumps" ? 1.5 : 0.3);
  return fitPhase({
    signal,
    spacing,
    labels: labelsOf(reading, detection, signal.length),
    coefficients,
    noise: Math.max(noise, 0.02 * amplitude),
    parameters: parameters ??
      { p: 0.2 * feedback, q: 0.98 * feedback, middle, amplitude },
    fitFeedback: true,
    keepFeedbackAtStart: startFeedback !== null,
    fitLevels: true,
    iterations,
  });
}

/** No closer fit than this is worth more knots (1). */
const leastVariance = 1e-8;

/** Akaike's criterion of a fit: smaller is better. */
function score(fit: PhaseFit): number {
  const { residualSquares, effectiveSamples, coefficients, free } = fit;
  const k = coefficients.length + free.length;
  if (!(effectiveSamples > 1.5 * k)) return Infinity;
  const value = effectiveSamples *
      Math.log(residualSquares / effectiveSamples + leastVariance) +
    2 * k * effectiveSamples / (effectiveSamples - k - 1);
  return Number.isFinite(value) ? value : Infinity;
}

const ladder = 1.6;

/** The spline of a fit on other knots: c = (8 f₀ - f₋₁ - f₊₁)/6. */
function resampled(
  fit: PhaseFit,
  spacing: number,
  sampleCount: number,
): Float64Array {
  const size = Math.ceil(sampleCount / spacing) + 3;
  const last = sampleCount - 1;
  const inside = (place: number) =>
    phaseAt(fit.coefficients, fit.spacing, place);
  // Straight on beyond the ends.
  const at = (place: number) =>
    place < 0
      ? inside(0) + place * (inside(1) - inside(0))
      : place > last
      ? inside(last) + (place - last) * (inside(last) - inside(last - 1))
      : inside(place);
  return Float64Array.from({ length: size }, (_, k) => {
    const place = (k - 1) * spacing;
    return (8 * at(place) - at(place - spacing) - at(place + spacing)) / 6;
  });
}

/** A reading's fit with the knots that suit it, stiff splines tried first. */
function fitAnew(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  parameters: FringeParameters,
): PhaseFit {
  let best: PhaseFit | null = null;
  for (const spacing of firstSpacings(signal, detection)) {
    const fit = fitReading(
      signal,
      detection,
      reading,
      spacing,
      parameters,
      10,
    );
    if (best === null || score(fit) < score(best)) best = fit;
  }
  return chooseSpacing(signal, detection, reading, best!);
}

/** Knots further apart or closer, as long as Akaike's criterion improves. */
function chooseSpacing(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  start: PhaseFit,
  thorough = true,
): PhaseFit {
  let best = start;
  const walk = (factor: number) => {
    let failures = 0;
    let spacing = start.spacing;
    while (failures < (thorough ? 2 : 1)) {
      const next = Math.round(spacing * factor);
      if (next === spacing || next < 3 || next > signal.length / 4) return;
      spacing = next;
      checkpoint(NaN, "choose knots");
      // From the spline so far, and afresh from the labels: either may be
      // caught where the other is not.
      let fit: PhaseFit | null = null;
      const onwards = resampled(best, spacing, signal.length);
      for (const from of thorough ? [onwards, null] : [onwards]) {
        const next = fitReading(
          signal,
          detection,
          reading,
          spacing,
          best.parameters,
          8,
          null,
          from,
        );
        if (fit === null || score(next) < score(fit)) fit = next;
        if (fitsNoise(fit, detection)) break;
      }
      if (fit === null) return;
      if (score(fit) < score(best)) {
        best = fit;
        failures = 0;
      } else failures++;
    }
  };
  walk(1 / ladder);
  walk(ladder);
  return best;
}

/**
 * A reading that leaves less where the fit does not follow the signal, or `null`
 * if none does. A stiff spline shows a wrong reading more clearly.
 */
export function mend(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  fit: PhaseFit,
): Reading | null {
  const noise = detection.scale.noise / fit.parameters.amplitude;
  const window = Math.max(
    8,
    Math.round(Math.min(fit.spacing, detection.fastest)),
  );
  const misfits = findMisfits(tracePhase(signal, fit), window, noise)
    .sort((a, b) => b.excess - a.excess);
  let current = reading;
  let failures = 0;
  for (const { first, last } of misfits) {
    if (failures >= mostFailures) break;
    checkpoint(NaN, "mend phase");
    const { index } = detection.extremes;
    const near = nearestExtremes(detection, first, last);
    const before = index[Math.max(0, near[0]! - 3)]!;
    const after = index[Math.min(index.length - 1, near.at(-1)! + 3)]!;
    const from = Math.max(0, Math.min(first, before) - 2 * fit.spacing);
    const to = Math.min(
      signal.length,
      Math.max(last, after) + 2 * fit.spacing,
    );
    let best = current;
    const now = localSquares(signal, detection, current, fit, from, to);
    // Nothing is left to mend where only noise is left.
    const enough = 1.3 * Math.max(noise, 0.002) ** 2 * (to - from);
    if (now < enough) continue;
    let least = now;
    for (
      const other of otherReadings(current, signal, detection, first, last)
    ) {
      const squares = localSquares(signal, detection, other, fit, from, to);
      if (squares < least) {
        least = squares;
        best = other;
      }
      if (least < enough) break;
    }
    const variance = Math.max(noise, 0.002) ** 2;
    if (best !== current && least < 0.9 * now && now - least > 30 * variance) {
      current = best;
      failures = 0;
    } else failures++;
  }
  return current === reading ? null : current;
}

/** Squared residuals of a reading on a part of the record, feedback held. */
function localSquares(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  fit: PhaseFit,
  from: number,
  to: number,
  spacing = fit.spacing,
): number {
  const labels = cutLabels(
    labelsOf(reading, detection, signal.length),
    from,
    to,
  );
  const local = fitPhase({
    signal: signal.subarray(from, to),
    spacing: Math.max(4, Math.min(spacing, Math.floor((to - from) / 6))),
    labels,
    parameters: fit.parameters,
    noise: Math.max(fit.noise, 0.02 * fit.parameters.amplitude),
    fitFeedback: false,
    fitLevels: false,
    iterations: 6,
  });
  return local.residualSquares;
}
