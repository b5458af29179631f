import type { Capture } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import type { Result, Shown } from "../result/mod.ts";
import {
  measureSpeed,
  type SpeedTrack,
  trackSpeed,
  type TrackSpeedOptions,
} from "../speed/mod.ts";
import { contradictionsOfSpeed } from "./contradictions.ts";
import { runsToAndFro, turnsRound } from "./recognise_by_fringes.ts";
import type { Evidence } from "./recognise_measurement.ts";
import type { Analysis } from "./settled.ts";

/** Samples from which on a speed is followed. */
const leastSamples = 2048;
/** Fringes each way from which on the speed of a motion says something. */
const fringesOfSpeed = 100;

/**
 * The speed of a capture: one value; or over time, where the surface turns round
 * or stands still in between; or both, where it changes.
 */
export function speedOfCapture(
  capture: Capture,
  options: TrackSpeedOptions,
  evidence: Evidence,
): Analysis {
  const { swings } = evidence;
  if (swings !== null && turnsRound(swings) && runsToAndFro(swings)) {
    return { results: [trackSpeed(capture, options)], contradictions: [] };
  }
  const speed = measureSpeed(capture, options);
  const contradictions = contradictionsOfSpeed(evidence, speed);
  const isSteady = speed.lineForm === "clean" &&
    !speed.warnings.some(({ code }) =>
      code === "unsteady" || code === "two-targets"
    );
  const track = isSteady ? null : followed(capture, options);
  const results: (Result & Shown)[] = track === null
    ? [speed]
    : comesToRest(track)
    ? [track]
    : changes(track)
    ? [speed, track]
    : [speed];
  return { results, contradictions };
}

/**
 * The speed over time of a motion with so many fringes each way that it says more
 * than the displacement; `null` where there are fewer, or it does not turn.
 */
export function speedOfMotion(
  capture: Capture,
  options: TrackSpeedOptions,
  { swings }: Evidence,
): (SpeedTrack & Shown) | null {
  if (swings === null) return null;
  const perStroke = swings.swings / 2 / (swings.reversals + 1);
  if (!(perStroke > fringesOfSpeed)) return null;
  const track = followed(capture, options);
  return track !== null && comesToRest(track) ? track : null;
}

function followed(
  capture: Capture,
  options: TrackSpeedOptions,
): (SpeedTrack & Shown) | null {
  if (capture.sampleCount < leastSamples) return null;
  try {
    return trackSpeed(capture, options);
  } catch (error) {
    if (error instanceof NotMeasurableError) return null;
    throw error;
  }
}

function comesToRest({ zeroCrossings, standstills }: SpeedTrack): boolean {
  return zeroCrossings.length + standstills.length > 0;
}

/** Whether there is more to tell of a speed than its mean. */
function changes(track: SpeedTrack): boolean {
  const { highestSpeed, lowestSpeed, modulation, secondSpeed } = track;
  const u = Math.hypot(
    highestSpeed.standardUncertainty,
    lowestSpeed.standardUncertainty,
  );
  const spread = highestSpeed.value - lowestSpeed.value;
  return modulation !== null || secondSpeed !== null ||
    spread > Math.max(4 * u, 0.02 * highestSpeed.value);
}
