import type { Displacement, FringeCount, LongMotion } from "../motion/mod.ts";
import type { RampSteps } from "../range/mod.ts";
import { inDigits } from "../result/mod.ts";
import type { SpeedMeasurement } from "../speed/mod.ts";
import { contradictionsAtEdges } from "./edges.ts";
import type { Evidence } from "./recognise_measurement.ts";
import type { SwingEvidence } from "./swing_evidence.ts";

/** Fewest fringes of a motion: with less, a change of light fits as well. */
const fewestFringes = 3;
/** Share of the samples that may not follow the phase that was found. */
const mostDoubtful = 0.1;
/** What the fit may leave over the height of the fringe. */
const mostLeft = 0.25;
/** Share of leaning fringes that may lean against the motion that was found. */
const mostAgainst = 0.05;
/** How many they are at least, turns of the target apart. */
const fewestAgainst = 3;
/** Samples over which what a fit leaves is held against itself. */
const lags = 8;
/** Correlation from which on it hangs together (1). */
const leastCorrelation = 0.1;
/** What hangs together over the height of the fringe, at most (1). */
const mostStructured = 0.03;
/** Fewest samples per fringe where they come fastest. */
const fewestSamples = 4;

const percent = (value: number) => `${inDigits(100 * value, 2)} %`;

/**
 * What a measured motion has that the capture contradicts: fringes counted in the
 * signal against those the fit passes, what the fit leaves, samples per fringe.
 *
 * @param evidence What was found in the capture before the fit.
 * @param displacement The displacement.
 * @param fringes The fringes of the same fit.
 * @returns One clause each, none where all agrees.
 */
export function contradictionsOfMotion(
  { swings, bursts }: Evidence,
  displacement: Displacement,
  fringes: FringeCount,
): string[] {
  const found: string[] = [];
  const { diagnostics, samplingRate } = displacement;
  const passed = fringes.fringeCount.value;
  const seen = (swings?.swings ?? NaN) / 2;
  // A turn hides up to a fringe, an end half of one.
  const hidden = 1 + displacement.turningPoints.length;
  if (passed < 0.75 * seen - hidden || passed > 1.33 * seen + hidden) {
    found.push(
      `the fit passes ${inDigits(passed, 3)} fringes where ${
        inDigits(seen, 3)
      } are seen in the signal`,
    );
  }
  if (passed < fewestFringes) {
    found.push(
      `the fit passes ${
        inDigits(passed, 2)
      } fringes only, which a change of the light fits as well`,
    );
  }
  const doubtful = diagnostics.doubtfulSamples /
    displacement.displacement.length;
  if (doubtful > mostDoubtful) {
    found.push(
      `${
        percent(doubtful)
      } of the samples do not follow the fit (of an AC-coupled recording, give 'couplingCorner')`,
    );
  }
  if (diagnostics.relativeNoise > mostLeft && hasMisfit(displacement)) {
    found.push(
      `the fit leaves ${
        percent(diagnostics.relativeNoise)
      } of the height of the fringes, more than the noise`,
    );
  }
  const against = swings === null ? null : leansAgainst(swings, displacement);
  if (against !== null) {
    found.push(
      `${against.count} of ${against.of} fringes lean over to the side of the other way than the fit moves the target`,
    );
  }
  const part = structuredPart(diagnostics.trace?.residual ?? null);
  if (part * diagnostics.relativeNoise > mostStructured) {
    found.push(
      `what the fit leaves hangs together from sample to sample (${
        percent(part * diagnostics.relativeNoise)
      } of the height of the fringes), which noise does not: strokes may be misread`,
    );
  }
  found.push(...contradictionsAtEdges(bursts, displacement));
  const has = (code: string) =>
    displacement.warnings.some((one) => one.code === code);
  if (has("misfit") && (has("loose-fit") || has("undersampled"))) {
    found.push(
      "the fastest fringes have few samples, or the motion that fits changes within a fringe, and still it does not follow all samples, so that strokes may be misread",
    );
  }
  const samples = samplingRate / (swings?.fastestRate ?? NaN);
  if (samples < fewestSamples) {
    found.push(
      `the fastest fringes have ${inDigits(samples, 2)} samples each`,
    );
  }
  return found;
}

/**
 * What a motion measured block by block has that the start of the capture, by which
 * it was recognised, contradicts. Of a long record neither residuals nor places are
 * kept, so there is less to hold against it than in `contradictionsOfMotion`.
 *
 * @param evidence What was found at the start.
 * @param motion The motion.
 * @returns One clause each, none where all agrees.
 */
export function contradictionsOfLongMotion(
  { swings, bursts }: Evidence,
  { fringeCount, warnings, samplingRate, diagnostics }: LongMotion,
): string[] {
  const found: string[] = [];
  const passed = fringeCount.value;
  if (passed < fewestFringes) {
    found.push(
      `the fit passes ${
        inDigits(passed, 2)
      } fringes only, which a change of the light fits as well`,
    );
  }
  if (diagnostics.doubtfulPlaces > mostDoubtful * passed) {
    found.push(
      `the fit does not follow the signal at ${diagnostics.doubtfulPlaces} places, of ${
        inDigits(passed, 3)
      } fringes that it passes`,
    );
  }
  const has = (code: string) => warnings.some((one) => one.code === code);
  if (diagnostics.relativeNoise > mostLeft && has("model-misfit")) {
    found.push(
      `the fit leaves ${
        percent(diagnostics.relativeNoise)
      } of the height of the fringes, more than the noise`,
    );
  }
  if (bursts.bursts.length > 0 && has("misfit")) {
    found.push(
      "the target is driven in steps, and the fit does not follow all samples",
    );
  }
  const samples = samplingRate / (swings?.fastestRate ?? NaN);
  if (samples < fewestSamples) {
    found.push(
      `the fastest fringes have ${inDigits(samples, 2)} samples each`,
    );
  }
  return found;
}

/** Fringes that lean against the motion; `null` where all but few agree. */
function leansAgainst(
  { course }: SwingEvidence,
  { displacement }: Displacement,
): { count: number; of: number } | null {
  let [along, against] = [0, 0];
  for (const { from, to, side } of course) {
    const way = (displacement[to]! - displacement[from]!) * side;
    if (way > 0) along++;
    else if (way < 0) against++;
  }
  // Which side goes with which way depends on the sign of the amplifier.
  const count = Math.min(along, against);
  const of = along + against;
  return count >= fewestAgainst && count > mostAgainst * of
    ? { count, of }
    : null;
}

/**
 * Root of the share of what a fit leaves that hangs together over up to eight
 * samples (1); 0 where it is as white as chance allows (Bartlett 1946: the
 * correlations of N white values scatter by 1/√N).
 */
function structuredPart(residual: Float32Array | null): number {
  if (residual === null) return 0;
  let largest = 0;
  for (let lag = 1; lag <= lags; lag++) {
    let [squares, products, count] = [0, 0, 0];
    for (let i = lag; i < residual.length; i++) {
      const value = residual[i]!;
      const before = residual[i - lag]!;
      if (value !== value || before !== before) continue;
      squares += (value * value + before * before) / 2;
      products += value * before;
      count++;
    }
    const correlation = Math.abs(products / squares);
    if (correlation > Math.max(leastCorrelation, 5 / Math.sqrt(count))) {
      largest = Math.max(largest, correlation);
    }
  }
  return Math.sqrt(largest);
}

function hasMisfit({ warnings }: Displacement): boolean {
  return warnings.some(({ code }) => code === "model-misfit");
}

/** Doppler line over the rate of the fringes that still agree. */
const rates = { low: 0.6, high: 1.6 } as const;

/**
 * What a Doppler line has that the capture contradicts: its frequency against the
 * rate of the fringes.
 *
 * @param evidence What was found in the capture before.
 * @param speed The speed.
 * @returns One clause each, none where all agrees.
 */
export function contradictionsOfSpeed(
  { fringes, line }: Evidence,
  { dopplerFrequency }: SpeedMeasurement,
): string[] {
  // Of fringes below the noise no rate is seen.
  if (fringes === null || !(fringes.unevenness < 0.3)) return [];
  const rate = line?.frequency ?? fringes.frequency;
  const ratio = dopplerFrequency.value / rate;
  return ratio > rates.low && ratio < rates.high ? [] : [
    `the Doppler line lies at ${
      inDigits(dopplerFrequency.value, 3)
    } Hz, while the fringes come at ${inDigits(rate, 3)} Hz`,
  ];
}

/**
 * What counted steps have that the capture contradicts.
 *
 * @param steps The steps.
 * @returns One clause each, none where all agrees.
 */
export function contradictionsOfSteps({ warnings }: RampSteps): string[] {
  const has = (code: string) => warnings.some((one) => one.code === code);
  return has("unexplained-signal") && has("estimators-disagree")
    ? [
      "the ramp leaves most of the signal unexplained, and two ways of counting its steps disagree",
    ]
    : [];
}
