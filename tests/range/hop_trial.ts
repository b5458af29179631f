import { measureSteps } from "fringebook";
import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";
import { rampCapture, trueSteps, trueTurns } from "./bench.ts";
import { rms } from "./statistics.ts";

const random = createRandom(42);

/** A random bench with at least 8 steps on the ramp. */
function draw() {
  for (;;) {
    const steps = 8 * 7.5 ** random.uniform();
    const distance = 0.02 * 20 ** random.uniform();
    const span = steps * 650e-9 ** 2 / (2 * distance * 8e-9);
    const [low, high] = [0.045 - span / 2, 0.045 + span / 2];
    if (low < 0.026) continue;
    return {
      distance,
      low,
      high,
      feedbackParameter: 0.1 * 40 ** random.uniform(),
      signalToNoiseRatio: 20 + 20 * random.uniform(),
      samplingRate: 8e3,
      duration: 0.25,
      frequency: 9.83,
      start: random.uniform(),
      bandwidth: 2e3,
      // Jumps fall anywhere between samples, as at a bench.
      oversampling: 24,
    };
  }
}

describe("mode hops on seeded captures", () => {
  it("every hop that turns the phase by a tenth is found, at its current", () => {
    let planted = 0;
    let found = 0;
    const places: number[] = [];
    const missed: string[] = [];
    for (let k = 0; k < 90; k++) {
      const bench = draw();
      const span = bench.high - bench.low;
      const at = bench.low + span * (0.3 + 0.4 * random.uniform());
      const step = 0.1e-9 * (1 + random.uniform());
      const capture = rampCapture({
        ...bench,
        seed: k + 1,
        diode: {
          modeHop: {
            current: at,
            wavelengthStep: step,
            hysteresis: 0.03 * span,
          },
        },
      });
      // A hop by whole turns of the phase leaves no trace; a tenth of a turn
      // is what must be seen.
      const turn = 2 * Math.PI *
        trueTurns(bench.distance, { current: at, wavelengthStep: step });
      if (Math.abs(turn) < 0.2 * Math.PI) continue;
      planted++;
      const { modeHops } = measureSteps(capture);
      const up = modeHops.find(({ direction }) => direction === "up");
      if (modeHops.length > 0) found++;
      else {
        missed.push(
          `C ${bench.feedbackParameter.toFixed(2)}, ${
            bench.signalToNoiseRatio.toFixed(0)
          } dB, ${
            trueSteps(bench.distance, bench.low, bench.high).toFixed(1)
          } steps, turn ${turn.toFixed(2)}`,
        );
      }
      if (up) places.push((up.current.value - at) / span);
    }
    console.log(
      `hops found: ${found} of ${planted}; place: rms ${
        rms(places).toExponential(1)
      } of the ramp`,
      missed,
    );
    expect(found).toBe(planted);
  });

  it("fewer than 1 % of captures without a hop show one", () => {
    let alarms = 0;
    const count = 110;
    for (let k = 0; k < count; k++) {
      const { modeHops } = measureSteps(
        rampCapture({ ...draw(), seed: 1000 + k }),
      );
      if (modeHops.length > 0) alarms++;
    }
    console.log(`false alarms: ${alarms} of ${count}`);
    expect(alarms / count).toBeLessThan(0.01);
  });
});
