import {
  type Option,
  optional,
  optionOf,
  quantityOption,
  readOptions,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";

/** The state of the air. */
export interface AirConditions {
  /** Temperature, in °C. @default {20} */
  temperature?: number | string;
  /** Pressure, in Pa. @default {101325} */
  pressure?: number | string;
  /** Relative humidity, in %. @default {50} */
  humidity?: number | string;
  /** Carbon dioxide, in µmol/mol (Ciddor only). @default {450} */
  carbonDioxide?: number;
}

/** The state of the air as it was taken: °C, Pa, % and µmol/mol. */
export type AirState = { readonly [K in keyof AirConditions]-?: number };

/** Options of {@linkcode airIndex}. */
export interface AirIndexOptions extends AirConditions {
  /**
   * Which equation: Ciddor 1996, or Edlén as modified by Birch & Downs.
   *
   * @default {"Ciddor"}
   */
  equation?: "Ciddor" | "modified Edlén";
  /** Standard uncertainty of the temperature, in °C. @default {0} */
  temperatureStandardUncertainty?: number | string;
  /** Standard uncertainty of the pressure, in Pa. @default {0} */
  pressureStandardUncertainty?: number | string;
  /** Standard uncertainty of the humidity, in %. @default {0} */
  humidityStandardUncertainty?: number | string;
}

/** The equations know a little more than the bench. */
const wavelengthOption = quantityOption({
  doc: "Vacuum wavelength, in m.",
  unit: "m",
  least: 230e-9,
  most: 2000e-9,
  customary: ["nm", "µm"],
  example: "650nm",
});

export const pressure = {
  unit: "Pa",
  most: 140e3,
  customary: ["hPa", "kPa"],
} as const;

export const airSpec = {
  temperature: optional(
    quantityOption({
      doc: "Temperature, in °C.",
      unit: "°C",
      least: -60,
      most: 100,
      example: "20°C",
    }),
    20,
  ),
  pressure: optional(
    quantityOption({
      ...pressure,
      doc: "Pressure, in Pa.",
      least: 1e3,
      example: "1013hPa",
    }),
    101325,
  ),
  humidity: optional(
    optionOf.between("Relative humidity, in %.", 0, 100, "%", "50%"),
    50,
  ),
  carbonDioxide: optional(
    optionOf.between(
      "Carbon dioxide, in µmol/mol (Ciddor only).",
      0,
      20000,
      "µmol/mol",
      "450",
    ),
    450,
  ),
  equation: optional(
    optionOf.choice("Which equation.", ["Ciddor", "modified Edlén"]),
    "Ciddor",
  ),
  temperatureStandardUncertainty: optional(
    optionOf.between(
      "Standard uncertainty of the temperature, in °C.",
      0,
      50,
      "°C",
      "0.5°C",
    ),
    0,
  ),
  pressureStandardUncertainty: optional(
    quantityOption({
      ...pressure,
      doc: "Standard uncertainty of the pressure, in Pa.",
      least: 0,
      example: "1hPa",
    }),
    0,
  ),
  humidityStandardUncertainty: optional(
    optionOf.between(
      "Standard uncertainty of the humidity, in %.",
      0,
      100,
      "%",
      "5%",
    ),
    0,
  ),
} satisfies Record<keyof AirIndexOptions, Option>;

/** The phase refractive index of air. */
export interface AirIndex extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "uncertainty.airIndex";
  /** Phase refractive index (1). */
  readonly refractiveIndex: Quantity;
  /** The state of the air, with defaults filled in: °C, Pa, %, µmol/mol. */
  readonly conditions: AirState;
  /** Vacuum wavelength, in m. */
  readonly wavelength: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Change of the index by 1 °C, 1 Pa and 1 % humidity (1). */
    readonly sensitivities: {
      readonly temperature: number;
      readonly pressure: number;
      readonly humidity: number;
    };
    /** Standard uncertainty of the equation itself (1). */
    readonly equationStandardUncertainty: number;
  };
}

/**
 * Phase refractive index of air from wavelength, temperature, pressure and
 * humidity, by the equations as NIST gives them (Stone & Zimmerman, Engineering
 * Metrology Toolbox, appendix A).
 *
 * @param wavelength Vacuum wavelength, in m or with its unit, 300 nm to 1700 nm.
 * @param options State of the air and its uncertainties, equation.
 * @returns The index with standard uncertainty (that of the equation, about
 * 1e-8, and of the state given).
 * @throws {RangeError} If a number is outside of what the equations know.
 *
 * Source: Ciddor, Appl. Opt. 35, 1566 (1996); Birch & Downs, Metrologia 30, 155
 * (1993) and 31, 315 (1994).
 *
 * @example
 * ```ts
 * import { airIndex } from "fringebook";
 * import { expect } from "vitest";
 *
 * const air = airIndex(633e-9, { temperature: 20, humidity: 0 });
 * expect(air.refractiveIndex.value).toBeCloseTo(1.000271800, 8);
 * ```
 */
export function airIndex(
  wavelength: number | string,
  options: AirIndexOptions = {},
): AirIndex & Shown {
  const task = "give the index of air";
  const lambda = wavelengthOption.read(wavelength, "wavelength", task);
  const {
    temperature,
    pressure,
    humidity,
    carbonDioxide,
    equation,
    temperatureStandardUncertainty,
    pressureStandardUncertainty,
    humidityStandardUncertainty,
  } = readOptions(airSpec, options, task);
  const index = (t: number, p: number, h: number) =>
    equation === "Ciddor"
      ? ciddor(lambda, t, p, h, carbonDioxide)
      : modifiedEdlen(lambda, t, p, h);
  const value = index(temperature, pressure, humidity);
  const slope = (f: (d: number) => number, d: number) =>
    (f(d) - f(-d)) / (2 * d);
  const sensitivities = {
    temperature: slope((d) => index(temperature + d, pressure, humidity), 0.1),
    pressure: slope((d) => index(temperature, pressure + d, humidity), 50),
    humidity: slope((d) => index(temperature, pressure, humidity + d), 1),
  };
  // Ciddor 1996, section 6: 2e-8 to 5e-8 as an expanded uncertainty.
  const equationStandardUncertainty = 1e-8;
  const warnings: Warning[] = [];
  if (lambda < 300e-9 || lambda > 1700e-9) {
    warnings.push(warn(
      "outside-equation",
      `The equations of the air index hold from 300 nm to 1700 nm: the wavelength is ${
        (1e9 * lambda).toFixed(0)
      } nm`,
    ));
  }
  if (equation === "modified Edlén" && (temperature < 0 || temperature > 40)) {
    warnings.push(warn(
      "outside-equation",
      `The modified Edlén equation is meant for laboratory air: at ${temperature} °C use 'Ciddor'`,
    ));
  }
  return createResult({
    kind: "uncertainty.airIndex" as const,
    refractiveIndex: quantity(
      value,
      Math.hypot(
        equationStandardUncertainty,
        sensitivities.temperature * temperatureStandardUncertainty,
        sensitivities.pressure * pressureStandardUncertainty,
        sensitivities.humidity * humidityStandardUncertainty,
      ),
      "1",
    ),
    conditions: { temperature, pressure, humidity, carbonDioxide },
    wavelength: lambda,
    warnings,
    provenance: provenance({
      method: "airIndex",
      options: {
        wavelength: lambda,
        temperature,
        pressure,
        humidity,
        carbonDioxide,
        equation,
        temperatureStandardUncertainty,
        pressureStandardUncertainty,
        humidityStandardUncertainty,
      },
      sources: equation === "Ciddor"
        ? ["Ciddor 1996"]
        : ["Birch & Downs 1993, 1994"],
    }),
    diagnostics: { sensitivities, equationStandardUncertainty },
  });
}

/** Saturation vapour pressure in Pa: over water (IAPWS), over ice below 0 °C. */
function saturationPressure(t: number): number {
  const kelvin = t + 273.15;
  if (t < 0) {
    const theta = kelvin / 273.16;
    return 611.657 * Math.exp(
      -13.928169 * (1 - theta ** -1.5) + 34.7078238 * (1 - theta ** -1.25),
    );
  }
  const omega = kelvin - 2.38555575678e-1 / (kelvin - 6.50175348448e2);
  const a = omega ** 2 + 1.16705214528e3 * omega - 7.24213167032e5;
  const b = -1.70738469401e1 * omega ** 2 + 1.20208247025e4 * omega -
    3.23255503223e6;
  const c = 1.49151086135e1 * omega ** 2 - 4.82326573616e3 * omega +
    4.05113405421e5;
  const x = -b + Math.sqrt(b * b - 4 * a * c);
  return 1e6 * (2 * c / x) ** 4;
}

function ciddor(
  wavelength: number,
  t: number,
  p: number,
  humidity: number,
  carbonDioxide: number,
): number {
  const kelvin = t + 273.15;
  const enhancement = 1.00062 + 3.14e-8 * p + 5.60e-7 * t * t;
  const vapour = humidity / 100 * enhancement * saturationPressure(t) / p;
  const s = (1e-6 / wavelength) ** 2;
  const dry = 1e-8 * (5792105 / (238.0185 - s) + 167917 / (57.362 - s)) *
    (1 + 5.34e-7 * (carbonDioxide - 450));
  const wet = 1.022e-8 *
    (295.235 + 2.6422 * s - 0.03238 * s ** 2 + 0.004028 * s ** 3);
  const molarMass = 0.0289635 + 1.2011e-8 * (carbonDioxide - 400);
  const gasConstant = 8.314472;
  const ratio = p / kelvin;
  const compressibility = 1 -
    ratio *
      (1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t * t +
        (5.707e-6 - 2.051e-8 * t) * vapour +
        (1.9898e-4 - 2.376e-6 * t) * vapour ** 2) +
    ratio ** 2 * (1.83e-11 - 0.765e-8 * vapour ** 2);
  const standardDry = 101325 * molarMass /
    (0.9995922115 * gasConstant * 288.15);
  const dryDensity = (1 - vapour) * p * molarMass /
    (compressibility * gasConstant * kelvin);
  const wetDensity = vapour * p * 0.018015 /
    (compressibility * gasConstant * kelvin);
  return 1 + dryDensity / standardDry * dry + wetDensity / 0.00985938 * wet;
}

function modifiedEdlen(
  wavelength: number,
  t: number,
  p: number,
  humidity: number,
): number {
  const s = (1e-6 / wavelength) ** 2;
  const standard = 1e-8 *
    (8342.54 + 2406147 / (130 - s) + 15998 / (38.9 - s));
  const x = (1 + 1e-8 * (0.601 - 0.00972 * t) * p) / (1 + 0.003661 * t);
  const vapour = humidity / 100 * saturationPressure(t);
  return 1 + p * standard * x / 96095.43 -
    1e-10 * 292.75 / (t + 273.15) * (3.7345 - 0.0401 * s) * vapour;
}
