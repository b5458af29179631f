import type { ResultInput } from "../result/mod.ts";
import type { OptionSpec } from "./option.ts";

/**
 * What a result rests on beside its samples: each with its value, its standard
 * uncertainty and where it comes from. A standard uncertainty that nobody stated
 * is `null`: the value is taken as exact.
 *
 * @param spec The options of the function.
 * @param given The options as given.
 * @param read The options as read.
 * @param names Options that the result rests on.
 */
export function inputsOf(
  spec: OptionSpec,
  given: object | undefined,
  read: object,
  names: readonly string[],
): ResultInput[] {
  const own = (given ?? {}) as Record<string, unknown>;
  const values = read as Record<string, unknown>;
  const inputs: ResultInput[] = [];
  for (const name of names) {
    const value = values[name];
    if (typeof value !== "number" || !Number.isFinite(value)) continue;
    inputs.push({
      name,
      label: labelOf(name),
      value,
      unit: spec[name]?.unit ?? "1",
      standardUncertainty: uncertaintyOf(name, value, values),
      origin: own[name] === undefined ? "default" : "stated",
    });
  }
  return inputs;
}

/**
 * The uncertainty that counts, as stated or by default; `null` where there is
 * none or it is 0: the value is taken as exact.
 */
function uncertaintyOf(
  name: string,
  value: number,
  read: Record<string, unknown>,
): number | null {
  for (
    const [field, scale] of [
      [`${name}StandardUncertainty`, 1],
      [`${name}RelativeStandardUncertainty`, Math.abs(value)],
    ] as const
  ) {
    const uncertainty = read[field];
    if (typeof uncertainty !== "number") continue;
    return uncertainty > 0 ? uncertainty * scale : null;
  }
  return null;
}

/** `"refractiveIndex"` becomes `"refractive index"`. */
export function labelOf(name: string): string {
  return name.replace(/([a-z0-9])([A-Z])/g, "$1 $2").toLowerCase();
}
