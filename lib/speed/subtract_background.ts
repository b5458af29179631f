import { requireResult } from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import type { Spectrum } from "../signal/mod.ts";

/** A spectrum less the one without the target. */
export interface BackgroundSubtraction extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "speed.background";
  /** Frequencies of the bins, in Hz. */
  readonly frequency: Float64Array;
  /** Density with the target less that without, in unit²/Hz; may be negative. */
  readonly density: Float64Array;
  /** Its standard uncertainty, in unit²/Hz. */
  readonly standardUncertainty: Float64Array;
  /** Power that the target adds, in unit². */
  readonly addedPower: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Density with the target, in unit²/Hz. */
    readonly withTarget: Float64Array;
    /** Density without the target, in unit²/Hz. */
    readonly withoutTarget: Float64Array;
  };
}

/**
 * Subtracts the averaged spectrum of a capture without the target. Each averaged
 * density has the relative standard uncertainty 1/√(averages) (Welch 1967).
 *
 * @param spectrum From `welch()`, with the target.
 * @param background From `welch()` at the same settings, without the target.
 * @returns Difference of the densities with its uncertainty.
 * @throws {RangeError} If the bins of the two do not agree.
 *
 * @example
 * ```ts
 * import { subtractBackground } from "fringebook";
 * import { createRandom, welch } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const random = createRandom(1);
 * const noise = () => Float64Array.from({ length: 8192 }, () => random.normal());
 * const options = { samplingRate: 1000, segmentLength: 256 };
 * const rest = subtractBackground(welch(noise(), options), welch(noise(), options));
 * expect(Math.abs(rest.addedPower)).toBeLessThan(0.1);
 * ```
 */
export function subtractBackground(
  spectrum: Spectrum,
  background: Spectrum,
): BackgroundSubtraction & Shown {
  const task = "subtract a background";
  for (const each of [spectrum, background]) {
    requireResult(each, "signal.spectrum", "two spectra", "welch(…)", task);
  }
  const bins = spectrum.density.length;
  if (
    background.density.length !== bins ||
    Math.abs(background.binWidth / spectrum.binWidth - 1) > 1e-9
  ) {
    throw new RangeError(
      `Cannot subtract a background as its bins differ: ${background.density.length} of ${background.binWidth} Hz instead of ${bins} of ${spectrum.binWidth} Hz. Use the same sampling rate and segment length`,
    );
  }
  const density = new Float64Array(bins);
  const standardUncertainty = new Float64Array(bins);
  let addedPower = 0;
  let below = 0;
  for (let k = 0; k < bins; k++) {
    const own = spectrum.density[k]!, other = background.density[k]!;
    density[k] = own - other;
    standardUncertainty[k] = Math.hypot(
      own / Math.sqrt(spectrum.effectiveAverages),
      other / Math.sqrt(background.effectiveAverages),
    );
    addedPower += density[k]! * spectrum.binWidth;
    if (density[k]! < -3 * standardUncertainty[k]!) below++;
  }
  const warnings: Warning[] = [];
  if (below > 0.02 * bins + 3) {
    warnings.push(warn(
      "background-higher",
      `${below} of ${bins} bins are lower with the target than without it: gain or light changed between the two captures`,
    ));
  }
  return createResult<BackgroundSubtraction>({
    kind: "speed.background",
    frequency: spectrum.frequency,
    density,
    standardUncertainty,
    addedPower,
    warnings,
    provenance: provenance({
      method: "subtractBackground",
      sources: ["Welch 1967, IEEE Trans. Audio Electroacoust. 15, 70"],
    }),
    diagnostics: {
      withTarget: spectrum.density,
      withoutTarget: background.density,
    },
  });
}
