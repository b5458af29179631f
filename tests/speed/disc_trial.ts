/**
 * End to end: a rough disc in front of the simulated diode, with saw-tooth
 * fringes, fully developed speckle, flicker noise and an amplifier that rolls
 * off, over 150 seeds and speeds. Published record: 1 % (30 to 480 mm/s).
 */
import { describe, expect, it } from "vitest";
import { simulateCapture } from "../../lib/laser/mod.ts";
import { createRandom } from "../../lib/signal/mod.ts";
import { measureSpeed } from "../../lib/speed/mod.ts";

const wavelength = 650e-9;
const angle = 78 / 180 * Math.PI;

describe("measureSpeed() on a rough disc", () => {
  it("states intervals that hold, and the direction, over 150 captures", () => {
    const random = createRandom(808);
    const trials = 150;
    let inside = 0, sum = 0, squares = 0, wrongWay = 0, noWay = 0;
    for (let trial = 0; trial < trials; trial++) {
      const speed = 0.02 + 0.06 * random.uniform();
      const way = trial % 2 === 0 ? 1 : -1;
      const along = way * speed * Math.cos(angle);
      const capture = simulateCapture({
        distance: (time) => 0.1 + along * time,
        samplingRate: 200_000,
        duration: 0.25,
        feedbackParameter: 0.3 + 0.6 * random.uniform(),
        speckle: {
          contrast: 1,
          correlationLength: 60e-6,
          coordinate: (time) => speed * time,
        },
        frontEnd: { bandwidth: 90e3, couplingCorner: 100 },
        noise: { signalToNoiseRatio: 20, flicker: 5e-3 },
        drive: null,
        oversampling: 2,
        seed: 9000 + trial,
      });
      const result = measureSpeed(capture, {
        wavelength,
        angle,
        bandwidth: 90e3,
        clockRelativeStandardUncertainty: 0,
      });
      const error = result.speed.value - speed;
      if (Math.abs(error) <= result.speed.expandedUncertainty) inside++;
      sum += error / speed / trials;
      squares += (error / speed) ** 2 / trials;
      if (result.direction === "not determined") noWay++;
      else if ((result.direction === "receding" ? 1 : -1) !== way) wrongWay++;
    }
    console.log(
      `rough disc: bias ${(100 * sum).toFixed(4)} %, ` +
        `rms ${(100 * Math.sqrt(squares)).toFixed(4)} %, ` +
        `${(100 * inside / trials).toFixed(1)} % inside 95 %, ` +
        `direction wrong ${wrongWay}, not determined ${noWay} of ${trials}`,
    );
    expect(Math.abs(sum)).toBeLessThan(5e-4);
    // 150 trials of a right 95 % interval: 95 ± 1.8 %; three of these.
    expect(inside / trials).toBeGreaterThan(0.895);
    expect(wrongWay).toBe(0);
  });
});
