/**
 * Stages from a capture of two million samples (or MOTION_BENCH_SAMPLES) to
 * signed fringes, displacement and vibration. The same capture by another route, for comparison on the same
 * machine: `python3 tests/motion/hilbert_route.py`
 * (scipy.signal.hilbert + numpy.unwrap).
 */
import {
  conditionSignal,
  countFringes,
  createCapture,
  createDisplacementStream,
  createRandom,
  displacementSpectrum,
  estimateFeedback,
  measureDisplacement,
  measureMotionStream,
  measureVibration,
  streamOfCapture,
} from "fringebook";
import { detectFringes, directionsOf } from "../../lib/motion/detection.ts";
import { unwrapPhase } from "../../lib/motion/unwrap_phase.ts";

const wavelength = 650e-9;
const sampleCount = Number(Deno.env.get("MOTION_BENCH_SAMPLES") ?? 2e6);
const samplingRate = 1e6;
const samples = makeSignal(sampleCount);
const capture = createCapture([{
  name: "monitor",
  role: "monitor signal",
  unit: "V",
  samples,
}], { samplingRate });
const part = samples.slice(0, 1 << 16);

/** 5 µm at 100 Hz, C = 0.5, α = 5, 30 dB. */
function makeSignal(n: number): Float64Array {
  const random = createRandom(1);
  const noise = Float64Array.from(
    { length: 1 << 16 },
    () => 0.0224 * random.normal(),
  );
  const signal = new Float64Array(n);
  const psi = Math.atan(5);
  let x = 0;
  for (let i = 0; i < n; i++) {
    const phase = 4 * Math.PI / wavelength * 5e-6 *
      Math.sin(2 * Math.PI * 100 * i / samplingRate);
    for (let k = 0; k < 4; k++) {
      x -= (x + 0.5 * Math.sin(x + psi) - phase) /
        (1 + 0.5 * Math.cos(x + psi));
    }
    signal[i] = 2 + Math.cos(x) + noise[(i * 7919) & 0xffff]!;
  }
  return signal;
}

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
  const stream = createDisplacementStream({ wavelength });
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
  displacementSpectrum(moved);
});

Deno.bench("all of a motion, block by block, whole capture", async () => {
  await measureMotionStream(streamOfCapture(capture), { wavelength });
});
