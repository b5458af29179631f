/**
 * One analysis of a long capture in a process of its own, which answers with the
 * most memory it held: `deno run -A analysis_memory_job.ts NAME SAMPLES`.
 *
 * @module
 */
import {
  createCapture,
  measureMotionStream,
  measureSpeedStream,
  trackSpeedStream,
} from "fringebook";
import { streamOfSamples } from "fringebook/capture";
import {
  createRandom,
  spectrogramStream,
  welchStream,
} from "fringebook/signal";

const samplingRate = 1e6;
const wavelength = 650e-9;
const random = createRandom(1);
const noise = Float64Array.from({ length: 1 << 16 }, () => random.normal());

/**
 * Fringes at C = 0.5, α = 5 of a line at 50 kHz, or of a target that swings; the
 * excess phase by Newton's method from the phase before.
 */
function source(sampleCount: number, swings: boolean) {
  const psi = Math.atan(5);
  let x = 0;
  const make = (from: number, to: number) => {
    const samples = new Float64Array(to - from);
    for (let n = from; n < to; n++) {
      const phase = swings
        ? 100 * Math.sin(2 * Math.PI * 100 * n / samplingRate)
        : 2 * Math.PI * 0.05 * n;
      for (let k = 0; k < 4; k++) {
        x -= (x + 0.5 * Math.sin(x + psi) - phase) /
          (1 + 0.5 * Math.cos(x + psi));
      }
      samples[n - from] = Math.cos(x) + 0.0224 * noise[(n * 7919) & 0xffff]!;
    }
    return createCapture([
      { name: "monitor", role: "monitor signal", unit: "V", samples },
    ], { samplingRate });
  };
  return streamOfSamples(make, { samplingRate, sampleCount });
}

const [name = "", size = ""] = Deno.args;
const line = source(Number(size), false);
const analyses: Record<string, () => Promise<unknown>> = {
  welchStream: () => welchStream(line),
  spectrogramStream: () => spectrogramStream(line),
  measureMotionStream: () =>
    measureMotionStream(source(Number(size), true), { wavelength }),
  measureSpeedStream: () => measureSpeedStream(line, { wavelength }),
  trackSpeedStream: () => trackSpeedStream(line, { wavelength }),
};
await analyses[name]!();
const status = Deno.readTextFileSync("/proc/self/status");
console.log(Number(/^VmHWM:\s+(\d+) kB/m.exec(status)![1]) * 1024);
