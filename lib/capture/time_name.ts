import { parseUnit } from "../units/mod.ts";

const timeName =
  /^(time|t|zeit|temps|tiempo|tempo|elapsed|timestamp|x|x-axis|seconds?|secs?|s)$|^(rel(ative)?\.? |elapsed )?time\b/i;

/** Whether a column heading speaks of time. */
export function isTimeHeading(name: string, unit: string | null): boolean {
  return timeName.test(name.trim()) ||
    (unit !== null && parseUnit(unit)?.unit === "s");
}

const counterName =
  /^(index|sample|samples|sample (number|no\.?|index)|no\.?|nr\.?|n|#|points?|row)$/i;

/** Whether a column heading speaks of a row counter. */
export function isCounterHeading(name: string): boolean {
  return counterName.test(name.trim());
}
