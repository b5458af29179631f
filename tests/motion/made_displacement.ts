import { type Displacement, quantity } from "fringebook";
import { createResult, provenance } from "fringebook/result";

/** A displacement of known course with the given uncertainty, for the analyses. */
export function madeDisplacement(
  displacement: Float64Array,
  samplingRate: number,
  uncertainty: number,
): Displacement {
  const unknown = quantity(NaN, NaN, "1");
  return createResult({
    kind: "motion.displacement" as const,
    displacement,
    standardUncertainty: new Float32Array(displacement.length).fill(
      uncertainty,
    ),
    samplingRate,
    netDisplacement: unknown,
    peakToPeak: unknown,
    path: unknown,
    rmsUncertainty: uncertainty,
    directionDetermined: true,
    directionSource: "fringe form" as const,
    feedbackParameter: unknown,
    linewidthEnhancementFactor: unknown,
    regime: "weak" as const,
    polarity: 1 as const,
    turningPoints: new Float64Array(0),
    stretches: [],
    warnings: [],
    provenance: provenance({ method: "madeDisplacement" }),
    diagnostics: {
      metresPerRadian: 650e-9 / (4 * Math.PI),
      wavelength: 650e-9,
      wavelengthStandardUncertainty: 0,
      relativeNoise: 0.01,
      middle: 0,
      amplitude: 1,
      fringeForm: { p: 0, q: 0, origin: 0, sense: 1, uncertainty: 0 },
      knotSpacing: 1 / samplingRate,
      bandwidth: samplingRate / 2,
      doubtfulSamples: 0,
      margin: null,
      signal: new Float64Array(0),
      signalUnit: "V",
      trace: null,
    },
  });
}
