import {
  createCapture,
  createFigure,
  drawPicture,
  type Figure,
} from "fringebook";
import { thinTrace } from "fringebook/display";
import { createRandom } from "fringebook/signal";

const random = createRandom(1);
const samples = Float32Array.from(
  { length: 10_000_000 },
  () => random.normal(),
);
const capture = createCapture([{
  name: "monitor",
  role: "monitor signal",
  unit: "V",
  samples,
}], { samplingRate: 1e6 });
const small = createFigure({ data: [{ y: [1, 2] }], caption: "A line" });

Deno.bench("thin 10 million samples to 3000 points", () => {
  thinTrace(samples);
});

Deno.bench("picture of a line", { n: 5, warmup: 2 }, async () => {
  await drawPicture(small);
});

// The project's limit is 0.5 s.
Deno.bench("picture of 10 million samples", { n: 5, warmup: 2 }, async () => {
  await drawPicture(capture.figure() as Figure);
});
