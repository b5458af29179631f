import type { Capture, CaptureCheck } from "../capture/mod.ts";
import { measureLevel } from "../level/mod.ts";
import { createResult, type Shown } from "../result/mod.ts";
import type { Analysis } from "./settled.ts";

/** Doubts about fringes, which a level does not have. */
const ofFringes = ["low-snr", "aliased", "near-nyquist"];

/** The level of a capture, for an amplifier of 100 kΩ where the channel is in V. */
export function levelOfCapture(capture: Capture): Analysis {
  return { results: [measureLevel(capture)], contradictions: [] };
}

/** The check of a capture whose signal is a level: fringes are not asked for. */
export function checkForLevel(
  check: CaptureCheck & Shown,
): CaptureCheck & Shown {
  const warnings = check.warnings.filter(({ code }) =>
    !ofFringes.includes(code)
  );
  const isDoubtful = warnings.some(({ severity }) => severity === "doubtful");
  return createResult<CaptureCheck>({
    ...check,
    verdict: check.verdict === "doubtful" && !isDoubtful
      ? "good"
      : check.verdict,
    warnings,
  });
}
