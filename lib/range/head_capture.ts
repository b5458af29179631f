import { type Capture, createCapture } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { findFirstRamps, type FindRampsOptions, type Ramps } from "./ramps.ts";

/** Samples in which a ramp is looked for first; four times as many each time. */
const firstLook = 1 << 14;
/** Strokes that tell how far the ramp goes. */
const telling = 3;

/** The first samples of a capture. */
export function headOf(capture: Capture, samples: number): Capture {
  if (samples >= capture.sampleCount) return capture;
  return createCapture(
    capture.channels.map((channel) => ({
      ...channel,
      samples: channel.samples.subarray(0, samples),
    })),
    { samplingRate: capture.samplingRate, source: capture.source },
  );
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
  options: FindRampsOptions,
): Ramps {
  for (let look = firstLook; look < capture.sampleCount; look *= 4) {
    try {
      const ramps = findFirstRamps(headOf(capture, look), options, telling);
      if (ramps.diagnostics.turningPoints.length > telling) return ramps;
    } catch (error) {
      // The ramp may start later.
      if (!(error instanceof NotMeasurableError)) throw error;
    }
  }
  return findFirstRamps(capture, options, telling);
}
