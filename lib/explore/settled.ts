import { createResult, type Result, type Shown, warn } from "../result/mod.ts";
import type { Recognition } from "./recognise_measurement.ts";

/** Results, and what in the capture contradicts them. */
export interface Analysis {
  readonly results: (Result & Shown)[];
  readonly contradictions: string[];
}

/** What stands after the fit was held against the capture. */
export interface Settled {
  readonly recognition: Recognition & Shown;
  /** The results, the main one first; empty where the capture contradicts them. */
  readonly results: readonly (Result & Shown)[];
  /** Results that the capture contradicts: to look at, not to quote. */
  readonly setAside: readonly (Result & Shown)[];
}

/**
 * Sets results aside that the capture contradicts. Where a person said what it is,
 * they stay and carry the doubt.
 *
 * @param recognition What the capture seemed to be.
 * @param analysis Its results and what contradicts them.
 * @param isStated Whether a person said what it is.
 */
export function settled(
  recognition: Recognition & Shown,
  { results, contradictions }: Analysis,
  isStated: boolean,
): Settled {
  if (contradictions.length === 0) {
    return { recognition, results, setAside: [] };
  }
  if (!isStated) {
    return {
      recognition: revoked(recognition, contradictions),
      results: [],
      setAside: results,
    };
  }
  const told = warn(
    "contradiction",
    `The capture contradicts this: ${contradictions.join("; ")}`,
  );
  return {
    recognition,
    results: results.map((result) =>
      createResult({ ...result, warnings: [told, ...result.warnings] })
    ),
    setAside: [],
  };
}

/** The recognition taken back, with the reasons. */
export function revoked(
  recognition: Recognition,
  reasons: readonly string[],
): Recognition & Shown {
  const { measurement, reason, warnings } = recognition;
  const why = reasons.join("; ");
  return createResult<Recognition>({
    ...recognition,
    measurement: "none",
    reason: `Taken for a ${measurement} at first (${
      lowerFirst(reason).replace(/\.$/, "")
    }), but ${lowerFirst(why)}.`,
    nextStep:
      `If it is one all the same, pass measurement: "${measurement}" and read the warnings; else check the capture and the bench with the guide's troubleshooting page.`,
    warnings: [
      warn("contradiction", `The fit contradicts the recognition: ${why}`),
      ...warnings,
    ],
  });
}

function lowerFirst(text: string): string {
  return text.charAt(0).toLowerCase() + text.slice(1);
}
