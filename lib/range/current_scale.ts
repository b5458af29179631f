import { optional, optionOf } from "../options/mod.ts";
import type { Result, ResultInput } from "../result/mod.ts";

/** How sure the scale of the drive current is. */
export const currentScaleOption = optional(
  optionOf.relative(
    "Relative standard uncertainty of the scale of the ammeter (1).",
  ),
  0,
  "0, the value is taken as exact",
);

/**
 * The scale of the current that the steps rest on, with the uncertainty that
 * counts.
 *
 * @param steps The counted steps.
 * @param relative Relative standard uncertainty that counts (1).
 */
export function scaleInputs(
  { provenance }: Result,
  relative: number,
): ResultInput[] {
  return provenance.inputs.map((input) => ({
    ...input,
    standardUncertainty: relative > 0 ? relative * Math.abs(input.value) : null,
  }));
}
