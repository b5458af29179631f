import { convertUnit, parseMeasure } from "../../units/mod.ts";

/**
 * How far off something may be, as a questions file states it: a share of the
 * truth (`0.25 %`) or an amount with its unit (`0.4 mm`).
 *
 * @param text The text.
 * @param unit Unit of the question.
 * @param truth The true value, in that unit.
 * @returns The amount, in that unit; `null` if the text is neither.
 */
export function allowanceOf(
  text: string,
  unit: string,
  truth: number,
): number | null {
  const isPositive = (parseMeasure(text)?.value ?? 0) > 0;
  return isPositive ? amountOf(text, unit, truth) : null;
}

/** The same, and 0 may be stated. */
export function amountOf(
  text: string,
  unit: string,
  truth: number,
): number | null {
  const measure = parseMeasure(text);
  if (measure === null || !(measure.value >= 0)) return null;
  const { number, unitText, value } = measure;
  if (unitText === "%" || unitText === "ppm") return value * Math.abs(truth);
  // A bare number is an amount only where the unit is a bare number too
  return convertUnit(number, unitText === "" ? "1" : unitText, unit);
}
