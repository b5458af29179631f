import {
  type Option,
  optional,
  optionOf,
  readOptions,
} from "../options/mod.ts";
import {
  createResult,
  inDigits,
  provenance,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";

/** Options of {@linkcode electricalCautions}. */
export interface ElectricalCautionsOptions {
  /** Greatest drive current of the diode by its label, in A. */
  ratedCurrent: number | string;
  /**
   * Greatest current that the driver, or the ramp's top, gives, in A.
   *
   * @default {ratedCurrent * 0.9}
   */
  greatestCurrent?: number | string;
  /**
   * Voltage across the diode at that current, in V.
   *
   * @default {2.3}
   */
  forwardVoltage?: number | string;
  /**
   * Voltage of the supply, in V.
   *
   * @default {9}
   */
  supplyVoltage?: number | string;
  /**
   * Greatest reverse voltage of the diode by its label, in V.
   *
   * @default {2}
   */
  ratedReverseVoltage?: number | string;
}

export const cautionsSpec = {
  ratedCurrent: optionOf.current(
    "Greatest current that the diode may have, in A.",
  ),
  greatestCurrent: optional(
    optionOf.current("Greatest current that is used, in A."),
    undefined,
    "90 % of the rated one",
  ),
  forwardVoltage: optional(
    optionOf.positive("Voltage across the diode, in V.", "V", "2.3V"),
    2.3,
  ),
  supplyVoltage: optional(
    optionOf.positive("Voltage of the supply, in V.", "V", "9V"),
    9,
  ),
  ratedReverseVoltage: optional(
    optionOf.positive(
      "Greatest reverse voltage of the diode, in V.",
      "V",
      "2V",
    ),
    2,
  ),
} satisfies Record<keyof ElectricalCautionsOptions, Option>;

/** What to mind before a diode is connected. */
export interface ElectricalCautions extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "bench.electricalCautions";
  /** Least series resistor that holds the greatest current, in Ω. */
  readonly seriesResistance: number;
  /** Heat in that resistor, in W. */
  readonly resistorPower: number;
  /** Greatest current over rated current (1). */
  readonly currentRatio: number;
  /** Cautions in words, in the order of the work. */
  readonly cautions: readonly string[];
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Supply minus diode voltage, in V. */
    readonly resistorVoltage: number;
  };
}

/**
 * What to mind before a laser diode is connected: greatest current, slow start,
 * static electricity, reverse voltage, a supply that limits the current; and
 * the series resistor R = (U - U_F)/I that does so in the simplest case.
 *
 * @param options Ratings of the diode, supply.
 * @returns Series resistor and cautions (common practice, no source).
 * @throws {RangeError} If a value is not positive.
 *
 * @example
 * ```ts
 * import { electricalCautions } from "fringebook";
 * import { expect } from "vitest";
 *
 * const { seriesResistance } = electricalCautions({
 *   ratedCurrent: 0.05,
 *   greatestCurrent: 0.045,
 * });
 * expect(seriesResistance).toBeCloseTo((9 - 2.3) / 0.045, 9);
 * ```
 */
export function electricalCautions(
  options: ElectricalCautionsOptions,
): ElectricalCautions & Shown {
  const read = readOptions(
    cautionsSpec,
    options,
    "give electrical cautions",
  );
  const { ratedCurrent, forwardVoltage, supplyVoltage, ratedReverseVoltage } =
    read;
  const { greatestCurrent = ratedCurrent * 0.9 } = read;
  const numbers = {
    ratedCurrent,
    greatestCurrent,
    forwardVoltage,
    supplyVoltage,
    ratedReverseVoltage,
  };
  for (const [name, value] of Object.entries(numbers)) {
    if (!(value > 0 && Number.isFinite(value))) {
      throw new RangeError(
        `Cannot give electrical cautions as '${name}' must be a positive number in SI units: current value is ${value}`,
      );
    }
  }
  const resistorVoltage = supplyVoltage - forwardVoltage;
  const seriesResistance = Math.max(0, resistorVoltage) / greatestCurrent;
  const warnings: Warning[] = [];
  if (greatestCurrent > ratedCurrent) {
    warnings.push(warn(
      "over-driven",
      `The greatest current of ${show(greatestCurrent)} mA is above the rated ${
        show(ratedCurrent)
      } mA: the diode dies within microseconds, or ages in hours. Lower the ramp's top`,
    ));
  }
  if (resistorVoltage <= 0) {
    warnings.push(warn(
      "supply-too-low",
      `The supply of ${supplyVoltage} V cannot drive a diode that needs ${forwardVoltage} V: take a higher supply`,
    ));
  } else if (resistorVoltage < 1) {
    warnings.push(warn(
      "poor-regulation",
      `Only ${
        resistorVoltage.toPrecision(2)
      } V lie across the series resistor, so that the current follows the diode's temperature: take a higher supply or a current source`,
      "note",
    ));
  }
  return createResult<ElectricalCautions>({
    kind: "bench.electricalCautions",
    seriesResistance,
    resistorPower: Math.max(0, resistorVoltage) * greatestCurrent,
    currentRatio: greatestCurrent / ratedCurrent,
    cautions: [
      "Static kills diodes unseen: wear an earthed wrist strap, keep the pins shorted until they are soldered or plugged",
      "Find anode, cathode and photodiode from the label's drawing before power is on; the case is often one of them",
      `Never more than ${
        ratedReverseVoltage.toPrecision(2)
      } V backwards: put an ordinary diode across it, the other way round`,
      `Limit the current, not the voltage: a current source, or at least ${
        Math.ceil(seriesResistance)
      } Ω in series, set with a dummy load before the diode is there`,
      "Start slowly: the supply at zero, then up over a second; a capacitor across the diode takes the switch-on peak",
      `The top of the ramp counts, not its middle: never above ${
        show(ratedCurrent)
      } mA, not for a microsecond; a scope on the sense resistor shows it`,
      "Connect and disconnect only with the supply at zero and its output shorted: a loose clip makes peaks",
      "A warm diode needs more current for the same light: do not turn it up to compensate",
    ],
    warnings,
    provenance: provenance({
      method: "electricalCautions",
      options: numbers,
      sources: ["common practice, no source"],
    }),
    diagnostics: { resistorVoltage },
  });
}

function show(current: number): string {
  return inDigits(current * 1e3, 3);
}
