/** What a live display waits for: one block of 2^16 samples. */
import { createRandom } from "../../lib/signal/mod.ts";
import { measureSpeed, trackSpeed } from "../../lib/speed/mod.ts";
import { broadenedLine, captureOf } from "./simulated_line.ts";

const block = captureOf(
  broadenedLine(1 << 16, 0.1, 0.003, 1, createRandom(1)),
  1e6,
);

Deno.bench("measureSpeed() on 65 536 samples", () => {
  measureSpeed(block, { wavelength: 650e-9 });
});

Deno.bench("trackSpeed() on 65 536 samples", () => {
  trackSpeed(block, { wavelength: 650e-9 });
});
