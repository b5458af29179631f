import { checkpoint } from "../progress/mod.ts";
import { type Capture, cutCapture } from "../capture/mod.ts";
import { ifMeasurable } from "./if_measurable.ts";
import { findFirstRamps, type Ramps, type RampSettings } from "./ramps.ts";

/** Samples in which a ramp is looked for first; four times as many each time. */
const firstLook = 1 << 14;
/** Strokes that tell how far the ramp goes. */
const telling = 3;

/** The first samples of a capture. */
export function headOf(capture: Capture, samples: number): Capture {
  return cutCapture(capture, { to: samples / capture.samplingRate });
}

/**
 * The ramps in as little of a capture as shows some whole strokes.
 *
 * @param capture The capture.
 * @param options As for {@linkcode findFirstRamps}.
 * @throws {NotMeasurableError} If the whole capture has no ramp.
 */
export function findFewRamps(
  capture: Capture,
  options: RampSettings,
): Ramps {
  for (let look = firstLook; look < capture.sampleCount; look *= 4) {
    checkpoint(NaN, "find ramps");
    // The ramp may start later.
    const ramps = ifMeasurable(() =>
      findFirstRamps(headOf(capture, look), options, telling)
    );
    if ((ramps?.diagnostics.turningPoints.length ?? 0) > telling) return ramps!;
  }
  return findFirstRamps(capture, options, telling);
}
