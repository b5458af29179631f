import { describe, expect, it } from "vitest";
import {
  benchOptions,
  nearestName,
  optional,
  optionOf,
  quantityOption,
  readOptions,
} from "../../lib/options/mod.ts";
import { parseMeasure } from "../../lib/units/mod.ts";

const spec = {
  wavelength: benchOptions.wavelength,
  wavelengthStandardUncertainty: benchOptions.wavelengthStandardUncertainty,
  angle: benchOptions.angle,
  refractiveIndex: benchOptions.refractiveIndex,
  currentPerVoltage: benchOptions.currentPerVoltage,
};
const task = "measure a speed";
const read = (options: unknown) => readOptions(spec, options, task);

describe("readOptions()", () => {
  it("fills in what was not given", () => {
    expect(read({ wavelength: 650e-9 })).toEqual({
      wavelength: 650e-9,
      wavelengthStandardUncertainty: 0,
      angle: 0,
      refractiveIndex: 1.00027,
      currentPerVoltage: null,
    });
  });

  it("reads texts with units", () => {
    const options = read({
      wavelength: "650nm",
      wavelengthStandardUncertainty: "2 nm",
      angle: "78deg",
      currentPerVoltage: "10mA/V",
    });
    // Exact but for the last digit of a product.
    expect(options.wavelength).toBeCloseTo(650e-9, 20);
    expect(options.wavelengthStandardUncertainty).toBeCloseTo(2e-9, 20);
    // 78/180 π, from a table: 1.361356817.
    expect(options.angle).toBeCloseTo(1.361356817, 9);
    expect(options.currentPerVoltage).toBeCloseTo(0.01, 15);
  });

  it("names the option that was misspelt", () => {
    expect(() => read({ wavelenght: 650e-9 })).toThrow(
      "Cannot measure a speed as there is no option 'wavelenght'. Did you mean 'wavelength'?",
    );
    expect(() =>
      read({ wavelength: 650e-9, wavelengthStandardUncertanty: 2e-9 })
    ).toThrow("Did you mean 'wavelengthStandardUncertainty'?");
    expect(() => read({ wavelength: 650e-9, lambda: 1 })).toThrow(
      "Did you mean 'wavelength'?",
    );
    expect(() => read({ wavelength: 650e-9, colour: "red" })).toThrow(
      "There are wavelength, wavelengthStandardUncertainty, angle",
    );
  });

  it("says what a number was most likely meant to be", () => {
    expect(() => read({ wavelength: 650 })).toThrow(
      "'wavelength' must lie between 100 nm and 20 µm: current value is 650 m. Write 650e-9 or \"650nm\"",
    );
    expect(() => read({ wavelength: "650um" })).toThrow(
      'current value is "650um". Write 650e-9 or "650nm"',
    );
    expect(() => read({ wavelength: 0.65 })).toThrow(
      'Write 0.65e-6 or "0.65µm"',
    );
    expect(() => read({ wavelength: 650e-9, angle: 78 })).toThrow(
      'current value is 78 rad. Write 1.3614 or "78deg"',
    );
    expect(() => read({ wavelength: 650e-9, wavelengthStandardUncertainty: 2 }))
      .toThrow('Write 2e-9 or "2nm"');
    expect(() => read({ wavelength: 650e-9, currentPerVoltage: 10 })).toThrow(
      'Write 10e-3 or "10mA/V"',
    );
    expect(() =>
      readOptions({ tuning: benchOptions.tuningCoefficient }, {
        tuning: 8.3,
      }, task)
    ).toThrow('Write 8.3e-9 or "8.3pm/mA"');
    expect(() =>
      readOptions({ tuning: benchOptions.tuningCoefficient }, {
        tuning: 0.0083,
      }, task)
    ).toThrow('Write 0.0083e-6 or "0.0083nm/mA"');
  });

  it("refuses another unit and another kind in words", () => {
    expect(() => read({ wavelength: "650mA" })).toThrow(
      '\'wavelength\' must be in m, or a text with its unit such as "650nm": "650mA" is in A',
    );
    expect(() => read({ wavelength: Promise.resolve(650e-9) })).toThrow(
      "got a Promise",
    );
    expect(() => read({ wavelength: null })).toThrow("got null");
    expect(() => read({})).toThrow(
      "'wavelength' is missing: give it in m, as in { wavelength: \"650nm\" }",
    );
    expect(() => read(undefined)).toThrow("'wavelength' is missing");
    for (const given of [null, 3, "650nm", [], new Float64Array(1)]) {
      expect(() => read(given)).toThrow(
        "the options must be an object such as { wavelength: … }",
      );
    }
  });

  it("takes what stands for 'not given' where it is given", () => {
    const own = { frequency: optional(optionOf.frequency("F, in Hz."), null) };
    expect(readOptions(own, { frequency: null }, task).frequency).toBe(null);
    expect(readOptions(own, { frequency: undefined }, task).frequency)
      .toBe(null);
    expect(() => readOptions(own, { frequency: 0 }, task)).toThrow(
      "'frequency' must be a positive number of Hz: current value is 0 Hz",
    );
  });

  it("never lets a number through that is none", () => {
    const any = quantityOption({ doc: "A number (1).", unit: "1" });
    for (const value of [NaN, Infinity, -Infinity]) {
      expect(() => readOptions({ any }, { any: value }, task)).toThrow(
        "must be a finite number",
      );
    }
  });
});

describe("parseMeasure()", () => {
  it("reads quotients, degrees, parts and decimal commas", () => {
    const values: [string, number, string][] = [
      ["8.3pm/mA", 8.3e-9, "m/A"],
      ["0.0083 nm/mA", 8.3e-9, "m/A"],
      ["10 mA/V", 0.01, "A/V"],
      ["180°", Math.PI, "rad"],
      ["0,5 %", 0.005, "1"],
      ["30ppm", 3e-5, "1"],
      ["50 mm/s", 0.05, "m/s"],
      ["1500rpm", 25, "Hz"],
      ["-2e-3 V", -0.002, "V"],
    ];
    for (const [text, value, unit] of values) {
      const read = parseMeasure(text)!;
      expect(read.unit).toBe(unit);
      // The last digit of the products.
      expect(read.value / value).toBeCloseTo(1, 12);
    }
    for (const text of ["", "nm", "650 furlongs", "1/2", "8.3pm/mA/V"]) {
      expect(parseMeasure(text)).toBe(null);
    }
  });
});

describe("nearestName()", () => {
  it("finds slips, and nothing where nothing is near", () => {
    const names = ["wavelength", "angle", "refractiveIndex", "samplingRate"];
    expect(nearestName("wavelenght", names)).toBe("wavelength");
    expect(nearestName("Angle", names)).toBe("angle");
    expect(nearestName("refractive_index", names)).toBe("refractiveIndex");
    expect(nearestName("samplerate", names)).toBe("samplingRate");
    expect(nearestName("colour", names)).toBe(null);
  });
});
