import { type ParsedUnit, parseUnit } from "./unit.ts";

const degree = Math.PI / 180;

/** Units of options that no column of a file has. */
const more = new Map<string, ParsedUnit>([
  ["deg", { unit: "rad", factor: degree }],
  ["degree", { unit: "rad", factor: degree }],
  ["degrees", { unit: "rad", factor: degree }],
  ["°", { unit: "rad", factor: degree }],
  ["Å", { unit: "m", factor: 1e-10 }],
  ["cm", { unit: "m", factor: 1e-2 }],
  ["rpm", { unit: "Hz", factor: 1 / 60 }],
  ["turns", { unit: "1", factor: 1 }],
  ["ppm", { unit: "1", factor: 1e-6 }],
  ["dB", { unit: "dB", factor: 1 }],
  ["C", { unit: "°C", factor: 1 }],
  ["hPa", { unit: "Pa", factor: 100 }],
  ["mbar", { unit: "Pa", factor: 100 }],
]);

/** A unit that is no quotient; `null` where it is not known. */
export function simpleUnit(text: string): ParsedUnit | null {
  return more.get(text) ?? parseUnit(text);
}

/**
 * Reads a number with a unit as a person writes it, quotients of units too:
 * `"650nm"`, `"78 deg"`, `"8.3 pm/mA"`, `"10mA/V"`, `"0.5 %"`.
 *
 * @param text The text; a decimal comma is accepted.
 * @returns The number as it stands, its unit text (`""` for none), and the value
 * in the SI unit; `null` if the text is not a number with a known unit.
 */
export function parseMeasure(
  text: string,
): { number: number; unitText: string; value: number; unit: string } | null {
  const match =
    /^\s*([-+−]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$/
      .exec(text.slice(0, 200));
  if (match === null) return null;
  const number = Number(match[1]!.replace(",", ".").replace("−", "-"));
  const unitText = match[2]!;
  if (unitText === "") return { number, unitText, value: number, unit: "" };
  const whole = simpleUnit(unitText) ?? quotient(unitText);
  return whole === null ? null : {
    number,
    unitText,
    value: number * whole.factor,
    unit: whole.unit,
  };
}

function quotient(text: string): ParsedUnit | null {
  const parts = text.split(/\s*\/\s*/);
  if (parts.length !== 2) return null;
  const [top, bottom] = parts.map(simpleUnit);
  if (!top || !bottom) return null;
  return {
    unit: `${top.unit}/${bottom.unit}`,
    factor: top.factor / bottom.factor,
  };
}
