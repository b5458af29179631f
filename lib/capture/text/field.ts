/** How numbers are written in a text file. */
export interface NumberStyle {
  /** Decimal mark. */
  readonly decimalMark: "." | ",";
  /** Mark between groups of three digits; `""` for none. */
  readonly thousandsMark: "" | "," | "." | " " | "'";
  /** Texts (lower case) that stand for a missing value. */
  readonly missing: readonly string[];
}

/** Texts taken for a missing value unless the caller gives others. */
export const defaultMissing: readonly string[] = [
  "",
  "nan",
  "na",
  "n/a",
  "n.a.",
  "#n/a",
  "null",
  "none",
  "?",
  "invalid",
  "overload",
  "overflow",
  "underflow",
  "ovl",
  "o.l.",
  "ol",
  "1.#qnan",
  "-1.#ind",
  "1.#inf",
  "-1.#inf",
  "inf",
  "-inf",
  "+inf",
  "infinity",
  "-infinity",
  "∞",
  "-∞",
];

/** A field filled with one mark: nothing was measured. */
const onlyMarks = /^(?:-+|\*+|#+)$/;

/** Whether a field stands for a missing value. */
export function isMissing(field: string, missing: readonly string[]): boolean {
  return onlyMarks.test(field) || missing.includes(field.toLowerCase());
}

const plainNumber = /^[-+]?(?:\d+\.?\d*|\.\d+)(?:[eEdD][-+]?\d+)?$/;

/**
 * Reads one field the careful way; the fast path of the table parser comes here
 * for everything that is not a plain number.
 *
 * @param text The field, quotes still on.
 * @param style How numbers are written.
 * @returns The number, `NaN` for a missing value, `undefined` for text.
 */
export function parseField(
  text: string,
  style: NumberStyle,
): number | undefined {
  let field = text.trim();
  if (field.length >= 2 && field[0] === '"' && field.at(-1) === '"') {
    field = field.slice(1, -1).trim();
  }
  const { decimalMark, thousandsMark, missing } = style;
  if (isMissing(field, missing)) return NaN;
  if (field.length > 400) return undefined;
  let number = field.replace(/^\u2212/, "-");
  if (thousandsMark !== "") {
    const marks = thousandsMark === " "
      ? "[ \\u00a0\\u202f\\u2009]"
      : thousandsMark === "'"
      ? "['\\u2019]"
      : `\\${thousandsMark}`;
    const grouped = new RegExp(
      `^[-+]?\\d{1,3}(?:${marks}\\d{3})+(?=$|[eE\\${decimalMark}])`,
    ).exec(number);
    if (grouped !== null) {
      number = grouped[0].replace(new RegExp(marks, "g"), "") +
        number.slice(grouped[0].length);
    }
  }
  if (decimalMark === ",") {
    if (number.includes(".")) return undefined;
    number = number.replace(",", ".");
  }
  if (!plainNumber.test(number)) return undefined;
  const value = Number(number.replace(/[dD]/, "e"));
  return Number.isFinite(value) ? value : undefined;
}
