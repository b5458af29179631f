/** A unit text taken apart: the SI unit and the factor to it. */
export interface ParsedUnit {
  /** SI unit symbol without prefix; `"1"` for pure numbers. */
  readonly unit: string;
  /** Multiply a number in the text's unit by this to get `unit`. */
  readonly factor: number;
}

const prefixes = new Map<string, number>([
  ["", 1],
  ["f", 1e-15],
  ["p", 1e-12],
  ["n", 1e-9],
  ["u", 1e-6],
  ["µ", 1e-6],
  ["μ", 1e-6],
  ["m", 1e-3],
  ["k", 1e3],
  ["K", 1e3],
  ["M", 1e6],
  ["G", 1e9],
  ["T", 1e12],
]);

const prefixWords = new Map<string, number>([
  ["", 1],
  ["femto", 1e-15],
  ["pico", 1e-12],
  ["nano", 1e-9],
  ["micro", 1e-6],
  ["milli", 1e-3],
  ["kilo", 1e3],
  ["mega", 1e6],
  ["giga", 1e9],
]);

const symbols = ["s", "V", "A", "Hz", "W", "m", "K", "Ω", "Pa", "rad", "F"];

const words = new Map<string, string>([
  ["second", "s"],
  ["seconds", "s"],
  ["sec", "s"],
  ["secs", "s"],
  ["volt", "V"],
  ["volts", "V"],
  ["ampere", "A"],
  ["amperes", "A"],
  ["amp", "A"],
  ["amps", "A"],
  ["hertz", "Hz"],
  ["watt", "W"],
  ["watts", "W"],
  ["metre", "m"],
  ["metres", "m"],
  ["meter", "m"],
  ["meters", "m"],
  ["kelvin", "K"],
  ["ohm", "Ω"],
  ["ohms", "Ω"],
  ["pascal", "Pa"],
]);

const table = makeTable();

function makeTable(): Map<string, ParsedUnit> {
  const map = new Map<string, ParsedUnit>();
  for (const [prefix, factor] of prefixes) {
    for (const unit of symbols) map.set(prefix + unit, { unit, factor });
    map.set(prefix + "v", { unit: "V", factor });
    if (prefix !== "") map.set(prefix + "a", { unit: "A", factor });
    map.set(prefix + "hz", { unit: "Hz", factor });
    for (const word of ["Ohm", "ohm"]) {
      map.set(prefix + word, { unit: "Ω", factor });
    }
  }
  map.set("min", { unit: "s", factor: 60 });
  map.set("h", { unit: "s", factor: 3600 });
  map.set("hr", { unit: "s", factor: 3600 });
  map.set("°C", { unit: "°C", factor: 1 });
  map.set("degC", { unit: "°C", factor: 1 });
  map.set("%", { unit: "1", factor: 0.01 });
  for (const one of ["1", "-", "counts", "count", "LSB", "ADC", "code"]) {
    map.set(one, { unit: "1", factor: 1 });
  }
  for (const rate of ["Sa/s", "S/s", "SPS", "sps", "samples/s", "1/s"]) {
    for (const [prefix, factor] of prefixes) {
      map.set(prefix + rate, { unit: "Hz", factor });
    }
  }
  return map;
}

/**
 * Takes a unit text such as `"mV"`, `"µs"`, `"milliamps"` or `"MSa/s"` apart.
 *
 * @param text The unit text, without brackets.
 * @returns SI unit and factor, or `null` if the text is no unit known here.
 *
 * @example
 * ```ts
 * import { parseUnit } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * expect(parseUnit("mV")).toEqual({ unit: "V", factor: 1e-3 });
 * expect(parseUnit("furlong")).toBe(null);
 * ```
 */
export function parseUnit(text: string): ParsedUnit | null {
  requireText(text, "read a unit");
  const trimmed = text.trim();
  const found = table.get(trimmed);
  if (found !== undefined) return found;
  const lower = trimmed.toLowerCase();
  for (const [prefix, factor] of prefixWords) {
    if (!lower.startsWith(prefix)) continue;
    const unit = words.get(lower.slice(prefix.length));
    if (unit !== undefined) return { unit, factor };
  }
  return lower === "s" ? { unit: "s", factor: 1 } : null;
}

/**
 * Splits a column heading such as `"CH1 (mV)"`, `"time [s]"`, `"current/mA"` or
 * `"drive_mA"` into a name and a unit text.
 *
 * @param heading The heading.
 * @returns The name, and the unit text or `null` where there is none.
 *
 * @example
 * ```ts
 * import { splitHeading } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * expect(splitHeading("monitor (mV)")).toEqual({ name: "monitor", unit: "mV" });
 * expect(splitHeading("Channel A")).toEqual({ name: "Channel A", unit: null });
 * ```
 */
export function splitHeading(
  heading: string,
): { name: string; unit: string | null } {
  requireText(heading, "split a heading");
  const text = heading.trim();
  const open = Math.max(text.lastIndexOf("("), text.lastIndexOf("["));
  const last = text[text.length - 1];
  if (open >= 0 && (last === ")" || last === "]")) {
    const unit = text.slice(open + 1, -1).trim();
    return { name: text.slice(0, open).trim() || unit, unit };
  }
  for (const mark of ["/", " in ", "_", " "]) {
    const at = text.lastIndexOf(mark);
    if (at <= 0) continue;
    const unit = text.slice(at + mark.length).trim();
    // "Channel A" and "Input 1" are names; "current mA" has a unit.
    const bare = mark === " " || mark === "_";
    if (bare && (unit.length < 2 || !/[A-Z°%Ω]|s$/.test(unit))) {
      if (unit !== "s") continue;
    }
    if (unit === "1" || parseUnit(unit) === null) continue;
    return { name: text.slice(0, at).trim(), unit };
  }
  return { name: text, unit: null };
}

/**
 * Reads a number with a unit, such as `"2.5 MSa/s"` or `"4E-7"`.
 *
 * @param text The text; a decimal comma is accepted.
 * @returns The value in the SI unit, and that unit (`null` if none is given),
 * or `null` if the text is not a number with a known unit.
 *
 * @example
 * ```ts
 * import { parseQuantity } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * expect(parseQuantity("500 kHz")).toEqual({ value: 500e3, unit: "Hz" });
 * expect(parseQuantity("0,5")).toEqual({ value: 0.5, unit: null });
 * ```
 */
export function parseQuantity(
  text: string,
): { value: number; unit: string | null } | null {
  requireText(text, "read a quantity");
  const match = /^\s*([-+]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][-+]?\d+)?)\s*(\S.*)?$/
    .exec(text.slice(0, 200));
  if (match === null) return null;
  const value = Number(match[1]!.replace(",", "."));
  if (match[2] === undefined) return { value, unit: null };
  const unit = parseUnit(match[2].replace(/[()[\],;]/g, ""));
  return unit === null ? null : { value: value * unit.factor, unit: unit.unit };
}

/** Here and not in the room of the options, which reads units itself. */
function requireText(value: unknown, task: string): void {
  if (typeof value === "string") return;
  throw new TypeError(
    `Cannot ${task} as it takes a text, and got ${
      value === null ? "null" : typeof value
    }`,
  );
}
