import { measureDistance } from "fringebook";
import { convertDrive } from "fringebook/bench";
import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";
import {
  counted,
  currentAt,
  distance,
  generatorFrom,
  rampCapture,
  readAt,
  throughCapacitor,
  voltageAt,
  voltageRamp,
} from "./driven.ts";

describe("the distance of a drive that was converted", () => {
  it("has a budget that holds the truth where the points of the curve scatter", () => {
    const voltage = voltageRamp();
    const capture = rampCapture(voltage.map(currentAt), voltage);
    const random = createRandom(11);
    const trials = 80;
    // Stated by the person, or left to the law of the diode.
    for (const stated of [true, false]) {
      let inside = 0;
      for (let k = 0; k < trials; k++) {
        const curve = readAt.map((current) => ({
          voltage: voltageAt(current),
          current: current + 10e-6 * random.normal(),
          ...(stated && { standardUncertainty: 10e-6 }),
        }));
        const found = measureDistance(
          convertDrive(capture, { curve }).capture,
          counted,
        ).distance;
        if (Math.abs(found.value - distance) < found.expandedUncertainty) {
          inside++;
        }
      }
      // 95 % of 80: 72 to 80 but once in 100 (binomial).
      expect(inside).toBeGreaterThanOrEqual(71);
    }
  });

  it("has a budget that holds the truth where the corner is found", () => {
    const trials = 24;
    let inside = 0;
    let doubt = 0;
    for (let seed = 1; seed <= trials; seed++) {
      const random = createRandom(seed);
      const corner = 12 * Math.exp(0.8 * random.normal());
      const generator = generatorFrom(random.uniform());
      const capture = rampCapture(
        throughCapacitor(generator, corner),
        generator,
        {
          // Fringes that jump stand higher on one way than on the other.
          feedbackParameter: 0.2 + 1.2 * random.uniform(),
          noise: 20 + 20 * random.uniform(),
          seed,
        },
      );
      const found = measureDistance(
        convertDrive(capture, {
          currentPerVoltage: "5mA/V",
          currentOffset: "40mA",
          couplingCorner: "find",
        }).capture,
        counted,
      ).distance;
      if (Math.abs(found.value - distance) < found.expandedUncertainty) {
        inside++;
      }
      if (found.standardUncertainty > 0.05 * distance) doubt++;
    }
    // 95 % of 24: 21 or more but once in 40 (binomial).
    expect(inside).toBeGreaterThanOrEqual(21);
    // Nor bought by saying nothing.
    expect(doubt).toBeLessThanOrEqual(6);
  });
});
