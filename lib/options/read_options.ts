import { inWords, isPromise } from "./in_words.ts";
import { nearestName } from "./nearest_name.ts";
import type { OptionSpec, ReadOptions } from "./option.ts";

/** Names that people use for an option of another name. */
const otherNames: Readonly<Record<string, string>> = {
  lambda: "wavelength",
  λ: "wavelength",
  n: "refractiveIndex",
  index: "refractiveIndex",
  airIndex: "refractiveIndex",
  theta: "angle",
  θ: "angle",
  fs: "samplingRate",
  rate: "samplingRate",
  sampleRate: "samplingRate",
  sampleFrequency: "samplingRate",
  c: "feedbackParameter",
  alpha: "linewidthEnhancementFactor",
  α: "linewidthEnhancementFactor",
  snr: "signalToNoiseRatio",
  mains: "mainsFrequency",
  scale: "currentPerVoltage",
};

/**
 * Reads the options of a function once, at its top: refuses names that do not
 * exist and values that cannot be meant, turns texts with units into SI
 * numbers, and fills in what was not given.
 *
 * @param spec The options that the function has.
 * @param given The options as given; not given at all is `undefined`.
 * @param task What the function does, as in "Cannot measure a speed as …".
 * @param place Option that holds these options, where it is not the last
 * argument itself.
 * @returns All options of the spec, in SI units.
 * @throws {TypeError} If a name does not exist, an option is missing or of the
 * wrong kind.
 * @throws {RangeError} If a value is out of its range.
 */
export function readOptions<S extends OptionSpec>(
  spec: S,
  given: unknown,
  task: string,
  { within = "" }: { within?: string } = {},
): ReadOptions<S> {
  const options = given === undefined && within === ""
    ? {}
    : requireOptions(given, spec, task, within);
  refuseUnknown(spec, options, task, within);
  const filled: Record<string, unknown> = {};
  for (const name in spec) {
    const option = spec[name]!;
    const value = options[name];
    if (value !== undefined) {
      filled[name] = option.read(value, dotted(within, name), task);
      continue;
    }
    if (option.whenMissing === null) {
      throw new TypeError(
        `Cannot ${task} as '${dotted(within, name)}' is missing: ${
          missingInWords(name, option.unit, option.example, within)
        }`,
      );
    }
    filled[name] = option.fallback;
  }
  return filled as ReadOptions<S>;
}

/**
 * The options that a function called from here has too, as they were given.
 *
 * @param spec The options that it has.
 * @param given All options as given.
 */
export function pickOptions<S extends OptionSpec, O extends object>(
  spec: S,
  given: O,
): Pick<O, keyof S & keyof O> {
  const picked: Record<string, unknown> = {};
  for (const [name, value] of Object.entries(given)) {
    if (Object.hasOwn(spec, name) && value !== undefined) picked[name] = value;
  }
  return picked as Pick<O, keyof S & keyof O>;
}

function requireOptions(
  given: unknown,
  spec: OptionSpec,
  task: string,
  within: string,
): Record<string, unknown> {
  if (
    typeof given === "object" && given !== null && !Array.isArray(given) &&
    !ArrayBuffer.isView(given) && !isPromise(given)
  ) return given as Record<string, unknown>;
  const names = Object.keys(spec);
  const first = names.find((name) => spec[name]!.whenMissing === null) ??
    names[0];
  const what = within === "" ? "the options" : `'${within}'`;
  throw new TypeError(
    `Cannot ${task} as ${what} must be an object${
      first === undefined ? "" : ` such as { ${first}: … }`
    }: got ${inWords(given)}`,
  );
}

function refuseUnknown(
  spec: OptionSpec,
  given: object,
  task: string,
  within: string,
): void {
  for (const name in given) {
    if (Object.hasOwn(spec, name)) continue;
    const names = Object.keys(spec);
    const other = otherNames[name];
    const near = other !== undefined && names.includes(other)
      ? other
      : nearestName(name, names);
    throw new TypeError(
      `Cannot ${task} as there is no option '${
        dotted(within, name.slice(0, 60))
      }'. ${
        near !== null
          ? `Did you mean '${near}'?`
          : names.length === 0
          ? "It has no options"
          : `There are ${names.join(", ")}`
      }`,
    );
  }
}

function missingInWords(
  name: string,
  unit: string,
  example: string,
  within: string,
): string {
  const written = example === ""
    ? "…"
    : unit === ""
    ? JSON.stringify(example)
    : /[^\d.eE+-]/.test(example)
    ? `"${example}"`
    : example;
  return `give it${unit === "" || unit === "1" ? "" : ` in ${unit}`}${
    within === ""
      ? `, as in { ${name}: ${written} }`
      : example === ""
      ? ""
      : `, such as ${written}`
  }`;
}

function dotted(within: string, name: string): string {
  return within === "" ? name : `${within}.${name}`;
}
