import { describe, expect, it } from "vitest";
import {
  classLimits,
  estimateLaserSafety,
  exposureLimit,
  safetyStatement,
} from "fringebook";

describe("exposureLimit()", () => {
  it("is 18 t^0.75 J/m² up to 10 s and 10 W/m² after", () => {
    // ICNIRP 2013; a printed example: 6.36e-4 J/cm² and 2.5 mW/cm² for 0.25 s
    // at 651 nm. Recomputed: 6.3640 J/m², 25.456 W/m²; 10 s: 10.122 W/m².
    const quarter = exposureLimit({ wavelength: 651e-9, exposureTime: 0.25 });
    expect(quarter).toBeCloseTo(25.456, 3);
    expect(quarter * 0.25).toBeCloseTo(6.364, 3);
    const ten = exposureLimit({ wavelength: 651e-9, exposureTime: 10 });
    expect(ten).toBeCloseTo(10.122, 3);
    expect(exposureLimit({ wavelength: 651e-9, exposureTime: 100 })).toBe(10);
  });

  it("is the origin of the 1 mW and 0.39 mW limits", () => {
    // Through 7 mm: 0.9797 mW for 0.25 s, 0.3895 mW for 10 s.
    const pupil = Math.PI / 4 * 7e-3 ** 2;
    const through = (exposureTime: number) =>
      exposureLimit({ wavelength: 651e-9, exposureTime }) * pupil * 1e3;
    expect(through(0.25)).toBeCloseTo(0.9797, 4);
    expect(through(10)).toBeCloseTo(0.3895, 4);
  });

  it("grows by C4 in the near infrared", () => {
    const limit = exposureLimit({ wavelength: 850e-9, exposureTime: 100 });
    expect(limit).toBeCloseTo(10 * 10 ** 0.3, 9);
  });

  it("is lower for blue light seen for long", () => {
    // Photochemical limit C3 W/m² above 100 s, from memory.
    expect(exposureLimit({ wavelength: 445e-9, exposureTime: 1000 }))
      .toBeCloseTo(1, 9);
  });

  it("refuses what it does not know", () => {
    expect(() => exposureLimit({ wavelength: 1310e-9, exposureTime: 1 }))
      .toThrow("Ask your laser safety officer");
    expect(() => exposureLimit({ wavelength: 650e-9, exposureTime: 1e-9 }))
      .toThrow("'exposureTime'");
  });
});

describe("classLimits()", () => {
  it("gives 0.39, 1, 5 and 500 mW for red light", () => {
    // IEC 60825-1:2014 by several printed class tables.
    expect(classLimits(650e-9)).toEqual({
      class1: 3.9e-4,
      class2: 1e-3,
      class3R: 5e-3,
      class3B: 0.5,
    });
  });

  it("gives 0.564, 0.641, 0.778, 1.178 mW for Class 1 at 780 to 940 nm", () => {
    // 0.39 mW × 10^(0.002 (λ - 700)), worked out by hand.
    const expected: [number, number][] = [
      [780, 0.564],
      [808, 0.641],
      [850, 0.778],
      [940, 1.178],
    ];
    for (const [nanometres, milliwatts] of expected) {
      const limits = classLimits(nanometres * 1e-9);
      expect(limits.class1 * 1e3).toBeCloseTo(milliwatts, 3);
      expect(limits.class2).toBe(null);
    }
    expect(classLimits(780e-9).class3R * 1e3).toBeCloseTo(2.82, 2);
    expect(classLimits(850e-9).class3R * 1e3).toBeCloseTo(3.89, 2);
  });

  it("gives 0.039 mW for blue light of 400 to 450 nm", () => {
    expect(classLimits(405e-9).class1).toBeCloseTo(3.9e-5, 9);
    expect(classLimits(500e-9).class1).toBeCloseTo(3.9e-4, 9);
  });
});

describe("estimateLaserSafety()", () => {
  it("finds 2 mW at 651 nm in a 7 mm pupil to be twice the limit", () => {
    // Printed example: 5.19 mW/cm² against 2.5 mW/cm², exceeded twice.
    const estimate = estimateLaserSafety({
      wavelength: 651e-9,
      power: 2e-3,
      beamDiameter: 0.1e-3,
    });
    // 5.197 mW/cm² = 51.97 W/m².
    expect(estimate.irradiance.value).toBeCloseTo(51.97, 2);
    expect(estimate.exposureRatio).toBeCloseTo(2.04, 2);
    expect(estimate.laserClass).toBe("3R");
  });

  it("gives the hazard distances worked out by hand", () => {
    // [sqrt(4P/(πE)) - a]/φ at 25.456 W/m², a and φ at 1/e: 1 mW, 1 mm, 1 mrad
    // 6.07 m; 5 mW, 1 mm 14.81 m; 5 mW, 3 mm 12.81 m.
    const expected: [number, number, number][] = [
      [1e-3, 1e-3, 6.07],
      [5e-3, 1e-3, 14.81],
      [5e-3, 3e-3, 12.81],
    ];
    for (const [power, beamDiameter, metres] of expected) {
      const { hazardDistance } = estimateLaserSafety({
        wavelength: 650e-9,
        power,
        beamDiameter,
        divergence: 1e-3,
        convention: "1/e",
      });
      expect(hazardDistance.value).toBeCloseTo(metres, 2);
    }
  });

  it("names the classes of small collimated beams", () => {
    const classOf = (nanometres: number, milliwatts: number) =>
      estimateLaserSafety({
        wavelength: nanometres * 1e-9,
        power: milliwatts * 1e-3,
        beamDiameter: 1e-3,
      }).laserClass;
    expect(classOf(650, 0.3)).toBe("1");
    expect(classOf(650, 0.9)).toBe("2");
    expect(classOf(650, 4)).toBe("3R");
    expect(classOf(650, 30)).toBe("3B");
    expect(classOf(650, 600)).toBe("4");
    expect(classOf(850, 0.7)).toBe("1");
    // No Class 2 in the near infrared.
    expect(classOf(850, 0.9)).toBe("3R");
    expect(classOf(780, 3)).toBe("3B");
  });

  it("finds a wide parallel beam to be Class 1M or 2M", () => {
    const options = { wavelength: 650e-9, beamDiameter: 40e-3 };
    // Through 7 mm of a 40 mm beam: 1 - exp(-2 (3.5/20)²) = 5.94 %.
    const estimate = estimateLaserSafety({ ...options, power: 5e-3 });
    expect(estimate.unaidedEmission.value / 5e-3).toBeCloseTo(0.0594, 4);
    expect(estimate.laserClass).toBe("1M");
    expect(estimateLaserSafety({ ...options, power: 15e-3 }).laserClass)
      .toBe("2M");
  });

  it("gives a bare diode less light in the eye, and warns of the loupe", () => {
    const bare = estimateLaserSafety({
      wavelength: 650e-9,
      power: 5e-3,
      divergence: [8 / 180 * Math.PI, 30 / 180 * Math.PI],
      beamDiameter: 0,
      convention: "full width at half maximum",
    });
    expect(bare.unaidedEmission.value).toBeLessThan(1e-3);
    expect(bare.cautions.join(" ")).toContain("loupe");
    expect(bare.laserClass).toBe("1");
    expect(bare.collectedClass).toBe("3R");
    expect(bare.warnings.map(({ code }) => code)).toContain("collected-class");
    expect(bare.hazardDistance.value).toBeLessThan(0.2);
  });

  it("says near infrared is not seen and the eye does not blink", () => {
    const { cautions, exposureLimit } = estimateLaserSafety({
      wavelength: 780e-9,
      power: 3e-3,
    });
    expect(cautions.join(" ")).toContain("the eye does not blink");
    expect(cautions.join(" ")).toContain("no Class 2");
    expect(cautions.join(" ")).toContain("retroreflector");
    // 100 s, not 0.25 s.
    expect(exposureLimit).toBeCloseTo(10 * 10 ** 0.16, 9);
  });

  it("always carries the sentence that others decide", () => {
    for (const wavelength of [450e-9, 650e-9, 780e-9, 1000e-9]) {
      for (const power of [0, 1e-4, 1e-2, 1]) {
        const { statement, warnings } = estimateLaserSafety({
          wavelength,
          power,
        });
        expect(statement).toBe(
          "estimate for teaching; the label, local rules and your laser safety officer decide",
        );
        expect(warnings[0]?.message).toContain(safetyStatement);
      }
    }
  });

  it("names the higher class near a border", () => {
    const { laserClass, warnings } = estimateLaserSafety({
      wavelength: 650e-9,
      power: 0.95e-3,
    });
    expect(laserClass).toBe("2");
    expect(warnings.map(({ code }) => code)).toContain("class-border");
  });

  it("reaches on for ever where the beam does not widen", () => {
    const { hazardDistance } = estimateLaserSafety({
      wavelength: 650e-9,
      power: 5e-3,
    });
    expect(hazardDistance.value).toBe(Infinity);
    expect(hazardDistance.standardUncertainty).toBeNaN();
  });

  it("refuses negative power", () => {
    expect(() => estimateLaserSafety({ wavelength: 650e-9, power: -1 }))
      .toThrow("'power'");
  });
});
