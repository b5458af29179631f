import type { Displacement, FringeCount } from "../motion/mod.ts";
import type { RampSteps } from "../range/mod.ts";
import { inDigits } from "../result/mod.ts";
import type { SpeedMeasurement } from "../speed/mod.ts";
import type { Evidence } from "./recognise_measurement.ts";

/** Fewest fringes of a motion: with less, a change of light fits as well. */
const fewestFringes = 3;
/** Share of the samples that may not follow the phase that was found. */
const mostDoubtful = 0.2;
/** What the fit may leave over the height of the fringe. */
const mostLeft = 0.25;
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
  { swings }: Evidence,
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
    found.push(`${percent(doubtful)} of the samples do not follow the fit`);
  }
  if (diagnostics.relativeNoise > mostLeft && hasMisfit(displacement)) {
    found.push(
      `the fit leaves ${
        percent(diagnostics.relativeNoise)
      } of the height of the fringes, more than the noise`,
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
