/**
 * Stages from a capture of two million samples (or MOTION_BENCH_SAMPLES) to
 * signed fringes, displacement and vibration. The same capture by another route, for comparison on the same
 * machine: `python3 tests/motion/hilbert_route.py`
 * (scipy.signal.hilbert + numpy.unwrap).
 */
import {
  countFringes,
  createCapture,
  createDisplacementTracker,
  estimateFeedback,
  measureDisplacement,
  measureDisplacementSpectrum,
  measureMotionStream,
  measureVibration,
  streamOfCapture,
} from "fringebook";
import { conditionSignal } from "fringebook/motion";
import { detectFringes, directionsOf } from "../../lib/motion/detection.ts";
import { unwrapPhase } from "../../lib/motion/unwrap_phase.ts";
import {
  samplingRate,
  swinging,
  wavelength,
} from "../bench/compare/analyses/signals.ts";

const sampleCount = Number(Deno.env.get("MOTION_BENCH_SAMPLES") ?? 2e6);
const samples = new Float64Array(sampleCount);
const make = swinging();
for (let n = 0; n < sampleCount; n++) make(n, samples, n);
const capture = createCapture([{
  name: "monitor",
  role: "monitor signal",
  unit: "V",
  samples,
}], { samplingRate });
const part = samples.slice(0, 1 << 16);

Deno.bench("conditioning, whole capture", () => {
  conditionSignal(capture);
});

Deno.bench("fringes of 65 536 samples found", () => {
  directionsOf(detectFringes(part)!);
});

Deno.bench("joint fit of phase, C and α, 65 536 samples", () => {
  unwrapPhase(part);
});

Deno.bench("displacement, whole capture", { group: "whole" }, () => {
  measureDisplacement(capture, { wavelength });
});

Deno.bench("signed fringes, whole capture", { group: "whole" }, () => {
  countFringes(capture, { wavelength });
});

Deno.bench("displacement of a stream, whole capture", () => {
  const stream = createDisplacementTracker({ wavelength });
  for (let i = 0; i < samples.length; i += 1 << 18) {
    stream.push(samples.subarray(i, i + (1 << 18)));
  }
  stream.finish();
});

const short = createCapture([{ ...capture.channels[0]!, samples: part }], {
  samplingRate,
});

Deno.bench("feedback estimate, 65 536 samples", { n: 3, warmup: 1 }, () => {
  estimateFeedback(short, { wavelength });
});

const moved = measureDisplacement(short, { wavelength });

Deno.bench("vibration, 65 536 samples", { n: 5, warmup: 1 }, () => {
  measureVibration(moved);
});

Deno.bench("displacement spectrum, 65 536 samples", () => {
  measureDisplacementSpectrum(moved);
});

Deno.bench("all of a motion, block by block, whole capture", async () => {
  await measureMotionStream(streamOfCapture(capture), { wavelength });
});
