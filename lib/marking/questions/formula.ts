import { nearestName } from "../../options/mod.ts";
import { parseMeasure } from "../../units/mod.ts";

/** Names that a formula may use, with their values in SI units. */
export type FormulaNames = Readonly<Record<string, number>>;

/** Longest formula that is read, in characters. */
const longest = 500;

const functions: Readonly<Record<string, (x: number) => number>> = {
  sqrt: Math.sqrt,
  abs: Math.abs,
  sin: Math.sin,
  cos: Math.cos,
  tan: Math.tan,
  asin: Math.asin,
  acos: Math.acos,
  atan: Math.atan,
  exp: Math.exp,
  ln: Math.log,
  log10: Math.log10,
  round: Math.round,
  floor: Math.floor,
  degrees: (x) => x * 180 / Math.PI,
  radians: (x) => x * Math.PI / 180,
};

/**
 * Computes a formula of a questions file: numbers with or without a unit
 * (`6.3 mm`), names, `+ - * / ^`, brackets and the usual functions. Angles are
 * in radians; `degrees(x)` is the number in degrees.
 *
 * @param text The formula, such as `truth * cos(known.angle)`.
 * @param names What the names stand for.
 * @returns The value, in SI units; it may be infinite or `NaN`.
 * @throws {SyntaxError} If it is no formula, or a name is not known.
 */
export function evaluateFormula(text: string, names: FormulaNames): number {
  if (text.length > longest) {
    throw new SyntaxError(
      `Cannot read a formula of ${text.length} characters: at most ${longest} are read`,
    );
  }
  // "8.3 pm/mA" is a value with its unit, not a quotient
  return parseMeasure(text)?.value ?? new FormulaReader(text, names).value();
}

/** A reader by recursive descent: sum, product, sign, power, atom. */
class FormulaReader {
  readonly #tokens: readonly string[];
  readonly #names: FormulaNames;
  #at = 0;

  constructor(readonly text: string, names: FormulaNames) {
    this.#tokens = [...text.matchAll(
      /(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?|[\p{L}_%°‰][\p{L}\p{N}_.%°]*|\S/gu,
    )].map(([token]) => token);
    this.#names = { pi: Math.PI, ...names };
  }

  value(): number {
    const value = this.#sum();
    const rest = this.#next();
    if (rest !== undefined) {
      this.#fail(`'${rest}' stands where it has no meaning`);
    }
    return value;
  }

  #sum(): number {
    let value = this.#product();
    for (;;) {
      if (this.#take("+")) value += this.#product();
      else if (this.#take("-", "−")) value -= this.#product();
      else return value;
    }
  }

  #product(): number {
    let value = this.#signed();
    for (;;) {
      if (this.#take("*", "·", "×")) value *= this.#signed();
      else if (this.#take("/")) value /= this.#signed();
      else return value;
    }
  }

  #signed(): number {
    return this.#take("-", "−") ? -this.#signed() : this.#power();
  }

  #power(): number {
    const base = this.#atom();
    return this.#take("^") ? base ** this.#signed() : base;
  }

  #atom(): number {
    const token = this.#next();
    if (token === undefined) return this.#fail("it ends too early");
    if (token === "(") return this.#bracket();
    if (/^[\d.]/.test(token)) return this.#number(token);
    if (!/^[\p{L}_]/u.test(token)) {
      return this.#fail(`'${token}' stands where a value belongs`);
    }
    if (this.#take("(")) {
      if (Object.hasOwn(functions, token)) {
        return functions[token]!(this.#bracket());
      }
      return this.#fail(
        `there is no function '${token}': there are ${
          Object.keys(functions).join(", ")
        }`,
      );
    }
    if (Object.hasOwn(this.#names, token)) return this.#names[token]!;
    const known = Object.keys(this.#names);
    const near = nearestName(token, known);
    return this.#fail(
      `there is no '${token}'${
        near === null ? "." : `, '${near}' was meant?`
      } It may use ${known.join(", ")}`,
    );
  }

  #bracket(): number {
    const value = this.#sum();
    if (!this.#take(")")) this.#fail("a bracket is not closed");
    return value;
  }

  /** A number, with the unit that may follow. */
  #number(token: string): number {
    const word = this.#tokens[this.#at];
    if (word === undefined || !/^[\p{L}_%°‰]/u.test(word)) return Number(token);
    this.#at++;
    const measure = parseMeasure(`1 ${word}`);
    return measure === null
      ? this.#fail(`'${word}' behind a number is no unit: write '*' between`)
      : Number(token) * measure.value;
  }

  #next(): string | undefined {
    return this.#tokens[this.#at++];
  }

  #take(...wanted: string[]): boolean {
    const is = wanted.includes(this.#tokens[this.#at] ?? "");
    if (is) this.#at++;
    return is;
  }

  #fail(why: string): never {
    throw new SyntaxError(`Cannot read the formula '${this.text}': ${why}`);
  }
}
