import { simpleUnit } from "./measure.ts";
import type { ParsedUnit } from "./unit.ts";

/** What a unit is made of: SI unit symbols to powers, and a factor. */
interface Composed {
  readonly factor: number;
  readonly powers: ReadonlyMap<string, number>;
}

/** Units with a name of their own, in others. */
const derived: Readonly<Record<string, Readonly<Record<string, number>>>> = {
  Hz: { s: -1 },
  Ω: { V: 1, A: -1 },
  W: { V: 1, A: 1 },
  rad: {},
  "1": {},
};

/** Units that only answers have. */
const more: Readonly<Record<string, ParsedUnit>> = {
  dm: { unit: "m", factor: 1e-1 },
  d: { unit: "s", factor: 86_400 },
  "‰": { unit: "1", factor: 1e-3 },
};

/**
 * Converts a number from one unit to another: with or without prefixes,
 * products, quotients and powers, such as `"mm/s"`, `"nm/mA"` or `"µm/s²"`.
 *
 * @param value The number, in `from`.
 * @param from Its unit.
 * @param to The unit wanted.
 * @returns The number in `to`; `null` where one of them is no unit known here,
 * or they are not of the same kind.
 *
 * @example
 * ```ts
 * import { convertUnit } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * expect(convertUnit(49.7, "mm/s", "m/s")).toBeCloseTo(0.0497, 12);
 * expect(convertUnit(1, "nm/mA", "m/A")).toBeCloseTo(1e-6, 15);
 * expect(convertUnit(1, "m", "s")).toBe(null);
 * ```
 */
export function convertUnit(
  value: number,
  from: string,
  to: string,
): number | null {
  if (typeof from !== "string" || typeof to !== "string") {
    throw new TypeError(
      `Cannot convert a unit as it takes a number and two texts, and got a ${typeof from} and a ${typeof to}`,
    );
  }
  if (from.trim() === to.trim()) return value;
  const given = compose(from);
  const wanted = compose(to);
  if (given === null || wanted === null) return null;
  const names = new Set([...given.powers.keys(), ...wanted.powers.keys()]);
  for (const name of names) {
    if ((given.powers.get(name) ?? 0) !== (wanted.powers.get(name) ?? 0)) {
      return null;
    }
  }
  return value * given.factor / wanted.factor;
}

/** Takes a unit apart; `null` where it is none. */
function compose(text: string): Composed | null {
  if (text.length > 40) return null;
  const powers = new Map<string, number>();
  let factor = 1;
  const parts = text.replaceAll(/[()]/g, "").split("/");
  for (const [index, part] of parts.entries()) {
    const sign = index === 0 ? 1 : -1;
    for (const piece of part.split(/[·*\s⋅]+/).filter(Boolean)) {
      const found = /^(.+?)(?:\^?(-?\d)|([⁻⁰¹²³⁴]+))?$/u.exec(piece);
      const power = sign * powerOf(found?.[2], found?.[3]);
      // "1" is a unit too
      const symbol = /^\d$/.test(piece) ? piece : found![1]!;
      const unit = more[symbol] ?? simpleUnit(symbol);
      if (unit === null || !Number.isInteger(power)) return null;
      factor *= unit.factor ** power;
      for (const [name, times] of Object.entries(basis(unit.unit))) {
        powers.set(name, (powers.get(name) ?? 0) + times * power);
      }
    }
  }
  return { factor, powers };
}

function basis(unit: string): Readonly<Record<string, number>> {
  return Object.hasOwn(derived, unit) ? derived[unit]! : { [unit]: 1 };
}

function powerOf(digits?: string, raised?: string): number {
  if (digits !== undefined) return Number(digits);
  if (raised === undefined) return 1;
  const plain = [...raised].map((c) => "⁻⁰¹²³⁴".indexOf(c))
    .map((at) => at === 0 ? "-" : String(at - 1)).join("");
  return Number(plain);
}
