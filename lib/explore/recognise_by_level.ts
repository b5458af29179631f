import { inDigits } from "../result/mod.ts";
import type { Decision, Evidence } from "./recognise_measurement.ts";

/** Range over noise from which on a level has changed. */
const sureChange = 12;
/** Relative swing of a drive from which on it drives something. */
const driven = 0.01;

/**
 * Decides whether a capture is a level without fringes, where no drive is recorded
 * from which fringes were to be expected.
 *
 * @param evidence What was found in the capture.
 * @returns The decision, or `null` where it is no level.
 */
export function recogniseByLevel(
  { level, drive }: Evidence,
): Decision | null {
  if (level === null || !level.isLevel) return null;
  if (drive.channel !== null && drive.relativeSwing > driven) return null;
  const percent = `${inDigits(100 * level.relativeRange, 2)} %`;
  return {
    measurement: "level",
    reason: level.change > sureChange
      ? `The monitor signal has a level that changes slowly, within ${percent} of it, and nothing but noise rides on it: no fringes.`
      : `The monitor signal has a level that stays, and nothing but noise rides on it: no fringes.`,
    nextStep:
      "Measure the level: measureLevel(capture), with calibrateLevel for a distance, or findPresence for when something was there (from the shell: deno task level); notebook 12 leads through it. If fringes should be there, align the beam and record faster.",
  };
}
