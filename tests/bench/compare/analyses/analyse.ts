/**
 * Our route: the same numbers from the same samples, whole in memory, and block
 * by block for files larger than memory.
 *
 * @module
 */
import {
  type Capture,
  measureDisplacement,
  measureMotionStream,
  measureSteps,
  measureStepsStream,
  openCaptureStream,
  readCapture,
} from "fringebook";
import {
  spectrogram as spectrogramOf,
  spectrogramStream,
  welch,
  welchStream,
} from "fringebook/signal";
import { samplingRate, wavelength } from "./signals.ts";

/** What a job takes. */
interface Options {
  /** Path of the .npy file. */
  readonly path: string;
}

const reading = {
  samplingRate,
  channels: {
    "0": "monitor signal",
    "1": { role: "drive current", unit: "A" },
  },
} as const;

const motion = { samplingRate, channels: { "0": "monitor signal" } } as const;

async function whole(
  path: string,
  work: (capture: Capture) => unknown,
  options: typeof reading | typeof motion = motion,
): Promise<() => unknown> {
  const capture = await readCapture(path, { ...options, sha256: false });
  return () => work(capture);
}

/** Displacement by phase unwrapping with C and α estimated. */
export const displacement = ({ path }: Options) =>
  whole(path, (capture) => measureDisplacement(capture, { wavelength }));

/** Averaged spectrum, segments of 16384. */
export const spectrum = ({ path }: Options) =>
  whole(
    path,
    ({ channels }) =>
      welch(channels[0]!.samples, { samplingRate, segmentLength: 1 << 14 }),
  );

/** Spectrogram, segments of 1024. */
export const spectrogram = ({ path }: Options) =>
  whole(
    path,
    ({ channels }) =>
      spectrogramOf(channels[0]!.samples, {
        samplingRate,
        segmentLength: 1024,
      }),
  );

/** Steps on each stroke of a ramp. */
export const ramps = ({ path }: Options) =>
  whole(path, (capture) => measureSteps(capture), reading);

/** The same by the slope of the phase alone. */
export const ramps_phase = ({ path }: Options) =>
  whole(
    path,
    (capture) => measureSteps(capture, { estimator: "phase slope" }),
    reading,
  );

/** Displacement, block by block. */
export const displacement_stream = ({ path }: Options) => async () => {
  using stream = await openCaptureStream(path, motion);
  return await measureMotionStream(stream, { wavelength });
};

/** Averaged spectrum, block by block. */
export const spectrum_stream = ({ path }: Options) => async () => {
  using stream = await openCaptureStream(path, motion);
  return await welchStream(stream, { segmentLength: 1 << 14 });
};

/** Spectrogram, block by block. */
export const spectrogram_stream = ({ path }: Options) => async () => {
  using stream = await openCaptureStream(path, motion);
  return await spectrogramStream(stream, { segmentLength: 1024 });
};

/** Steps on each stroke, block by block. */
export const ramps_stream = ({ path }: Options) => async () => {
  using stream = await openCaptureStream(path, reading);
  return await measureStepsStream(stream);
};

/** The same by the slope of the phase alone. */
export const ramps_phase_stream = ({ path }: Options) => async () => {
  using stream = await openCaptureStream(path, reading);
  return await measureStepsStream(stream, { estimator: "phase slope" });
};
