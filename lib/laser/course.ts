import { checkpoint } from "../progress/mod.ts";
import type { ReadSimulateOptions } from "./simulation.ts";

/** A course over time: constant, a function of time in s, or samples. */
export type Course = number | ((time: number) => number) | Float64Array;

/** Most steps of one simulation; each takes some 60 bytes. */
const mostSteps = 5e7;

/** Samples of a simulated capture, from its options. */
export function countSamples(options: ReadSimulateOptions): number {
  const { distance, current, samplingRate, duration } = options;
  const lengths = [distance, current]
    .filter((course) => course instanceof Float64Array)
    .map(({ length }) => length);
  if (duration !== undefined) lengths.push(Math.round(duration * samplingRate));
  const [sampleCount] = lengths;
  if (sampleCount === undefined) {
    throw new RangeError(
      "Cannot simulate a capture as neither 'duration' nor samples of 'distance' or 'current' say how long it is",
    );
  }
  if (sampleCount * options.oversampling > mostSteps) {
    throw new RangeError(
      `Cannot simulate a capture of ${sampleCount} samples as that is more than ${mostSteps} steps: shorten 'duration' or lower 'samplingRate' or 'oversampling'`,
    );
  }
  if (!(sampleCount >= 1 && lengths.every((n) => n === sampleCount))) {
    throw new RangeError(
      `Cannot simulate a capture as it must have at least one sample and all courses the same length: current lengths are ${
        lengths.join(", ")
      }`,
    );
  }
  return sampleCount;
}

/** Values of a course at `count` steps of 1/`rate`. */
export function evaluate(
  course: Course,
  count: number,
  rate: number,
  oversampling: number,
): Float64Array {
  const values = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    if ((i & 0xffff) === 0) checkpoint(i / count, "simulate a capture");
    if (typeof course === "number") values[i] = course;
    else if (typeof course === "function") {
      values[i] = course(i / rate);
    } else {
      const place = i / oversampling;
      const first = Math.floor(place);
      const next = Math.min(first + 1, course.length - 1);
      const part = place - first;
      values[i] = course[first]! * (1 - part) + course[next]! * part;
    }
  }
  return values;
}

/** Throws where a course is not finite. */
export function requireFinite(
  name: string,
  values: Float64Array,
  rate: number,
) {
  for (let bad = 0; bad < values.length; bad++) {
    if ((bad & 0xffff) === 0) checkpoint(bad / values.length, "check courses");
    if (Number.isFinite(values[bad])) continue;
    throw new RangeError(
      `Cannot simulate a capture as '${name}' must be a finite number at all times: at ${
        bad / rate
      } s it is ${values[bad]}`,
    );
  }
}

/** Every `factor`-th sample. */
export function decimate(samples: Float64Array, factor: number): Float64Array {
  if (factor === 1) return samples;
  const result = new Float64Array(samples.length / factor);
  for (let i = 0; i < result.length; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, "simulate a capture");
    result[i] = samples[i * factor]!;
  }
  return result;
}
