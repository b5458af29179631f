import { simulateCapture } from "fringebook";
import { feedbackPhase } from "fringebook/laser";

const phase = Float64Array.from(
  { length: 1e6 },
  (_, i) => 40 * Math.sin(i / 3000),
);

for (const feedbackParameter of [0.5, 2, 8]) {
  Deno.bench(`feedbackPhase(), 10^6 samples, C = ${feedbackParameter}`, () => {
    feedbackPhase(phase, { feedbackParameter });
  });
}

Deno.bench("simulateCapture(), 10^5 samples with noise", () => {
  simulateCapture({
    distance: (time) => 0.1 + 1e-6 * Math.sin(600 * time),
    samplingRate: 100e3,
    duration: 1,
    noise: { signalToNoiseRatio: 30, shot: true },
  });
});
