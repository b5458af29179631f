import { type Capture, findChannel } from "../capture/mod.ts";
import { inDigits } from "../result/mod.ts";
import type { Decision, Evidence } from "./recognise_measurement.ts";
import { ridesOnLevel } from "./recognise_by_fringes.ts";

/** Fewest levels of a drive that ramps; a square wave has two. */
const fewestLevels = 8;

/**
 * Decides by the drive channel: channels that are swapped, a sweep from near zero,
 * a ramp of the diode's current that the power follows.
 *
 * @param capture The capture.
 * @param evidence What was found in it.
 * @returns The decision, or `null` where the drive does not tell.
 */
export function recogniseByDrive(
  capture: Capture,
  evidence: Evidence,
): Decision | null {
  const { drive } = evidence;
  if (drive.channel === null) return null;
  const percent = (value: number) => `${inDigits(100 * value, 3)} %`;
  if (areSwapped(evidence)) {
    const monitor = findChannel(capture, "monitor signal")!.name;
    const { swings, driveSwings } = evidence;
    return {
      measurement: "none",
      reason:
        `The channels seem to be swapped: '${drive.channel}', which is taken as the drive, swings ${
          driveSwings!.swings
        } times, as fringes do, while '${monitor}', which is taken as the monitor signal, swings ${
          swings!.swings
        } times only.`,
      nextStep:
        `Read the file with the roles the other way round: '${drive.channel}' as the monitor signal, '${monitor}' as the drive.`,
    };
  }
  const ramps = drive.levels >= fewestLevels;
  if (
    drive.correlation > 0.5 && drive.explained > 0.9 && ramps &&
    Math.abs(drive.floor) < 0.1
  ) {
    return {
      measurement: "light-current curve",
      reason: `The drive runs from ${
        percent(drive.floor)
      } to its full value, and ${
        percent(drive.correlation)
      } of the monitor signal follows it.`,
      nextStep: "Find the threshold: checkDiode(capture).",
    };
  }
  const follows = drive.correlation > 0.8 ||
    (drive.correlation > 0.5 && ridesOnLevel(evidence.swings));
  if (follows && ramps && drive.relativeSwing > 1e-3) {
    return {
      measurement: "distance",
      reason: `The drive '${drive.channel}' ramps by ${
        percent(drive.relativeSwing)
      } over ${drive.strokes} strokes, and ${
        percent(drive.correlation)
      } of the monitor signal follows it: the diode's own current is ramped.`,
      nextStep:
        "Count the steps: measureSteps(capture), then measureDistance with a tuning calibration.",
    };
  }
  return null;
}

/**
 * Whether the drive carries the fringes: it swings many times as often as the
 * monitor signal, up to few heights or riding on a ramp.
 */
function areSwapped({ swings, driveSwings }: Evidence): boolean {
  if (swings === null || driveSwings === null) return false;
  return driveSwings.swings >= 16 &&
    driveSwings.swings > 3 * swings.swings + 8 &&
    (ridesOnLevel(driveSwings) || driveSwings.heightScatter < 0.08);
}
