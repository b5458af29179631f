import type { Capture } from "../capture/mod.ts";
import {
  isCaptureLike,
  type OptionSpec,
  pickOptions,
  type ReadOptions,
  readOptions,
  requireForm,
} from "../options/mod.ts";
import {
  type Displacement,
  measureDisplacement,
} from "./measure_displacement.ts";
import { type MotionOptions, motionSpec } from "./motion_options.ts";

/**
 * What a capture needs to become a displacement; with a displacement these are
 * settled and not taken.
 */
export type OfCapture = Partial<MotionOptions>;

/**
 * Reads the first argument of what is measured on a displacement: a displacement
 * or a capture, which is made into one with the options of
 * {@linkcode measureDisplacement}.
 *
 * @param measured The argument.
 * @param given The options as given.
 * @param spec The options beside those of the displacement.
 * @param task What is done, for the messages.
 */
export function readDisplacement<S extends OptionSpec>(
  measured: Displacement | Capture,
  given: unknown,
  spec: S,
  task: string,
): { displacement: Displacement; options: ReadOptions<S> } {
  requireForm(measured, {
    what: "a displacement",
    is: (value) =>
      isCaptureLike(value) ||
      (value as Displacement | null)?.kind === "motion.displacement",
    remedy:
      "pass measureDisplacement(capture, …), or the capture with 'wavelength'",
    awaited: "await readCapture(…)",
  }, task);
  if (!isCapture(measured)) {
    refuseSettled(given, spec, task);
    return { displacement: measured, options: readOptions(spec, given, task) };
  }
  const all = readOptions({ ...motionSpec, ...spec }, given, task);
  return {
    displacement: measureDisplacement(
      measured,
      pickOptions(motionSpec, given as MotionOptions),
    ),
    options: all as unknown as ReadOptions<S>,
  };
}

function isCapture(measured: Displacement | Capture): measured is Capture {
  return measured.kind !== "motion.displacement" && isCaptureLike(measured);
}

/** Options of a displacement beside one that is there would do nothing. */
function refuseSettled(given: unknown, spec: OptionSpec, task: string): void {
  if (typeof given !== "object" || given === null) return;
  for (const name of Object.keys(given)) {
    if (!Object.hasOwn(motionSpec, name) || Object.hasOwn(spec, name)) continue;
    throw new TypeError(
      `Cannot ${task} as '${name}' is settled by the displacement: give it to measureDisplacement(capture, …), or pass the capture`,
    );
  }
}
