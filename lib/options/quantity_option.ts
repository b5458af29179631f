import { parseMeasure } from "../units/mod.ts";
import { inWords } from "./in_words.ts";
import type { Option } from "./option.ts";

/** What {@linkcode quantityOption} is told. */
export interface QuantityDescription {
  /** What it is, in the words of its doc comment. */
  readonly doc: string;
  /** SI unit without prefix; `"1"` for pure numbers. */
  readonly unit: string;
  /** Least value that makes sense, in `unit`. */
  readonly least?: number;
  /** Values must be greater than this, in `unit`. */
  readonly above?: number;
  /** Greatest value that makes sense, in `unit`. */
  readonly most?: number;
  /**
   * Units in which people write it, such as `["nm"]`: a bare number that cannot be
   * meant in the SI unit was most likely meant in one of these.
   */
  readonly customary?: readonly string[];
  /** How it may be written, such as `"650nm"`. */
  readonly example?: string;
}

/**
 * An option that is a number with a unit: a number in the SI unit, or a text
 * with its unit.
 */
export function quantityOption(
  description: QuantityDescription,
): Option<number> {
  const { doc, unit, example = "" } = description;
  return {
    doc,
    unit,
    example,
    whenMissing: null,
    fallback: undefined,
    read: (given, name, task) => {
      // The usual case costs two comparisons.
      if (typeof given === "number") {
        if (fits(given, description)) return given;
        throw outOfRange(given, `${given}`, description, name, task);
      }
      if (typeof given !== "string") {
        throw new TypeError(
          `Cannot ${task} as '${name}' must be a number${inUnit(unit)}${
            suchAs(example)
          }: got ${inWords(given)}`,
        );
      }
      const read = parseMeasure(given);
      const shown = `"${given.slice(0, 40)}"`;
      if (read === null) {
        throw new TypeError(
          `Cannot ${task} as '${name}' must be a number${inUnit(unit)}${
            suchAs(example)
          }: ${shown} is no number with a unit known here`,
        );
      }
      // A number of percent, of dB: read as it stands.
      const value = read.unitText === unit ? read.number : read.value;
      const own = read.unit === "" || read.unit === unit ||
        read.unitText === unit ||
        // A fraction of a turn and a bare count are pure numbers too.
        (unit === "rad" && read.unit === "1" && read.unitText === "");
      if (!own) {
        throw new TypeError(
          `Cannot ${task} as '${name}' must be ${
            unit === "1" ? "a pure number" : `in ${unit}`
          }${suchAs(example)}: ${shown} is in ${read.unit}`,
        );
      }
      if (fits(value, description)) return value;
      throw outOfRange(
        read.number,
        read.unitText === "" ? given.trim().slice(0, 40) : shown,
        description,
        name,
        task,
      );
    },
  };
}

function fits(
  value: number,
  { least = -Infinity, above = -Infinity, most = Infinity }:
    QuantityDescription,
): boolean {
  return Number.isFinite(value) && value >= least && value > above &&
    value <= most;
}

function outOfRange(
  number: number,
  shown: string,
  description: QuantityDescription,
  name: string,
  task: string,
): RangeError {
  const { unit } = description;
  const bare = /^[-+\d.eE]+$/.test(shown);
  return new RangeError(
    `Cannot ${task} as '${name}' must ${rangeInWords(description)}: ` +
      `current value is ${shown}${bare && unit !== "1" ? ` ${unit}` : ""}${
        slip(number, description)
      }`,
  );
}

/** "be a positive number of Hz", "lie between 100 nm and 20 µm". */
function rangeInWords(description: QuantityDescription): string {
  const { unit, least, above, most, customary = [] } = description;
  const show = (value: number) => {
    const own =
      customary.find((each) => Math.abs(value) < 1e3 * factorOf(each)) ??
        (unit === "1" ? "" : unit);
    const factor = customary.includes(own) ? factorOf(own) : 1;
    return `${Number((value / factor).toPrecision(6))} ${own}`.trim();
  };
  if (least !== undefined && most !== undefined) {
    return `lie between ${show(least)} and ${show(most)}`;
  }
  if (above !== undefined && most !== undefined) {
    return `be above ${show(above)} and at most ${show(most)}`;
  }
  if (above === 0) return `be a positive number${inUnit(unit)}`;
  if (least === 0) return `be a number${inUnit(unit)} that is not negative`;
  if (above !== undefined) return `be more than ${show(above)}`;
  if (least !== undefined) return `be at least ${show(least)}`;
  if (most !== undefined) return `be at most ${show(most)}`;
  return `be a finite number${inUnit(unit)}`;
}

/** What was most likely meant: the number in a unit in which people write it. */
function slip(number: number, description: QuantityDescription): string {
  for (const unit of description.customary ?? []) {
    const factor = factorOf(unit);
    if (!fits(number * factor, description)) continue;
    const si = unit === "deg"
      ? `${Number((number * factor).toPrecision(5))}`
      : `${number}e${Math.round(Math.log10(factor))}`;
    return `. Write ${si} or "${number}${unit}"`;
  }
  return "";
}

function factorOf(unit: string): number {
  return parseMeasure(`1${unit}`)?.value ?? 1;
}

function inUnit(unit: string): string {
  return unit === "1" ? "" : ` of ${unit}`;
}

function suchAs(example: string): string {
  return example === "" ? "" : `, or a text with its unit such as "${example}"`;
}
