import type { CalibrationRecord } from "../../record/mod.ts";
import { unstatedOf } from "../../record/mod.ts";
import { parseMeasure } from "../../units/mod.ts";
import {
  type FlagValues,
  manyFlag,
  textFlag,
  UsageError,
} from "../task/mod.ts";

const unstated = "printed as 'not stated'";

/** What a certificate states beside the measurement. */
export const certificateFlags = {
  "title": textFlag("What was calibrated.", "TEXT", "as in the template"),
  "item": textFlag("The diode and the mark on it.", "TEXT", unstated),
  "operator": textFlag("Who calibrated.", "NAME", unstated),
  "laboratory": textFlag("Its name and address.", "TEXT", unstated),
  "place": textFlag("Where it was calibrated.", "TEXT", unstated),
  "customer": textFlag("For whom: customer or course.", "TEXT", unstated),
  "approved-by": textFlag("Who answers for the result.", "NAME", unstated),
  "temperature": textFlag(
    "Temperature of the diode, in °C, such as 24.5.",
    "NUMBER",
    unstated,
  ),
  "temperature-range": textFlag(
    "Temperatures of the diode at which it will be used, in °C.",
    "21..25",
    unstated,
  ),
  "air": textFlag(
    "Temperature, pressure and humidity of the air.",
    '"22 °C; 1013 hPa; 40 %"',
    unstated,
  ),
  "instrument": manyFlag(
    "An instrument by its role, with certificate and its end where it has one; may be repeated.",
    '"ROLE: MARK; CERTIFICATE; DATE"',
  ),
  "deviation": manyFlag(
    "What was done otherwise than the procedure says; may be repeated.",
    "TEXT",
  ),
} as const;

/** What was given of it. */
export type CertificateValues = FlagValues<typeof certificateFlags>;

/** The parameters of the note that the flags set; only what was given. */
export function certificateParameters(
  values: CertificateValues,
  what: string,
): Record<string, unknown> {
  const parameters = {
    title: values.title,
    item: values.item,
    operator: values.operator,
    laboratory: values.laboratory,
    place: values.place,
    customer: values.customer,
    approvedBy: values["approved-by"],
    temperature: read(values.temperature, (text) => {
      const value = Number(text);
      if (text.trim() !== "" && Number.isFinite(value)) return value;
      throw new UsageError(
        `Cannot ${what} as --temperature is no number: current value is '${text}'`,
      );
    }),
    temperatureRange: read(values["temperature-range"], (text) => {
      const [, low, high] =
        /^\s*(-?[\d.]+)\s*(?:\.\.|to)\s*(-?[\d.]+)\s*$/.exec(text) ?? [];
      if (Number(low) < Number(high)) {
        return { low: Number(low), high: Number(high) };
      }
      throw new UsageError(
        `Cannot ${what} as --temperature-range must be such as 21..25: current value is '${text}'`,
      );
    }),
    air: read(values.air, (text) => readAir(text, what)),
    instruments: values.instrument?.map((text) => readInstrument(text, what)),
    deviations: values.deviation,
  };
  return Object.fromEntries(
    Object.entries(parameters).filter(([, value]) => value !== undefined),
  );
}

function read<T>(text: string | undefined, parse: (text: string) => T) {
  return text === undefined ? undefined : parse(text);
}

function readAir(text: string, what: string): Record<string, number> {
  const air: Record<string, number> = {};
  for (const part of text.split(/;|,\s/)) {
    const measure = parseMeasure(part);
    if (measure?.unit === "°C") air["temperature"] = measure.value;
    else if (measure?.unit === "Pa") air["pressure"] = measure.value;
    else if (measure?.unitText === "%") air["humidity"] = measure.number;
    else {
      throw new UsageError(
        `Cannot ${what} as --air must be such as "22 °C; 1013 hPa; 40 %": cannot read '${part.trim()}'`,
      );
    }
  }
  return air;
}

function readInstrument(text: string, what: string): Record<string, string> {
  const [, role, identification, certificate, until] =
    /^([^:;]+):([^;]+)(?:;([^;]+))?(?:;([^;]+))?$/.exec(text)
      ?.map((part) => part?.trim()) ?? [];
  const date = until === undefined ? null : new Date(until);
  if (!role || !identification || Number.isNaN(date?.getTime() ?? 0)) {
    throw new UsageError(
      `Cannot ${what} as --instrument must be such as "ammeter: bench 3; 2026-117; 2027-01-31": current value is '${text}'`,
    );
  }
  return {
    role,
    identification,
    ...(certificate ? { certificate } : {}),
    ...(date ? { certificateValidUntil: date.toISOString() } : {}),
  };
}

/** The option that states what a certificate prints as "not stated". */
const stating: Readonly<Record<string, string>> = {
  "item": "--item",
  "laboratory": "--laboratory",
  "place of calibration": "--place",
  "customer or course": "--customer",
  "temperature of the diode": "--temperature or --temperature-range",
  "air": "--air",
  "uncertainty of the scale of the ammeter": "--current-uncertainty",
  "uncertainty of the scale of the distances": "--distance-scale-uncertainty",
  "uncertainty of the wavelength": "--wavelength-uncertainty",
  "instruments": "--instrument",
  "calibrated by": "--operator",
};

/** Lines that say what is not stated, each with the option that states it. */
export function unstatedLines(record: CalibrationRecord): string[] {
  const names = unstatedOf(record);
  return names.length === 0 ? [] : [
    "Printed on the certificate as 'not stated':",
    ...names.map((name) => {
      const option = stating[name];
      return `  ${name}${option === undefined ? "" : ` (${option})`}`;
    }),
  ];
}

/** What is asked for on a terminal, in the order of the certificate. */
const questions = {
  "item": "Item calibrated, and the mark on it",
  "laboratory": "Laboratory, name and address",
  "place": "Place of calibration",
  "customer": "Customer or course",
  "operator": "Calibrated by",
} as const;

/**
 * Asks for what a certificate needs and nobody gave.
 *
 * @param values What was given.
 * @param ask Asks one question; an empty answer states nothing.
 * @returns What was given and answered.
 */
export function askForUnstated(
  values: CertificateValues,
  ask: (question: string) => string | null,
): CertificateValues {
  const answers: Record<string, string> = {};
  for (const [name, question] of Object.entries(questions)) {
    if (Object.hasOwn(values, name)) continue;
    const answer = (ask(`${question} (Enter: not stated):`) ?? "").trim();
    if (answer !== "") answers[name] = answer;
  }
  return { ...values, ...answers };
}
