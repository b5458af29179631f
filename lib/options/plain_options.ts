import { inWords } from "./in_words.ts";
import { nearestName } from "./nearest_name.ts";
import {
  type Option,
  optional,
  type OptionSpec,
  type ReadOptions,
} from "./option.ts";
import { quantityOption } from "./quantity_option.ts";
import { readOptions } from "./read_options.ts";

const needed = { whenMissing: null, fallback: undefined } as const;

/** An option that is one of some values, such as `"triangle" | "sine"`. */
export function choiceOption<const T extends string | number>(
  doc: string,
  values: readonly T[],
): Option<T> {
  const all = values.map((value) => JSON.stringify(value));
  const list = all.length === 1
    ? all[0]!
    : `${all.slice(0, -1).join(", ")} or ${all.at(-1)}`;
  return {
    doc,
    unit: "",
    example: String(values[0]),
    ...needed,
    read: (value, name, task) => {
      const own = values.find((each) =>
        each === value || typeof value === "string" && String(each) === value
      );
      if (own !== undefined) return own;
      const near = typeof value === "string"
        ? nearestName(value, values.map(String))
        : null;
      const Kind = typeof value === "string" || typeof value === "number"
        ? RangeError
        : TypeError;
      throw new Kind(
        `Cannot ${task} as '${name}' must be ${list}: current value is ${
          typeof value === "string"
            ? JSON.stringify(value.slice(0, 60))
            : typeof value === "number"
            ? value
            : inWords(value)
        }${near === null ? "" : `. Did you mean "${near}"?`}`,
      );
    },
  };
}

/** An option that is `true` or `false`. */
export function flagOption(doc: string): Option<boolean> {
  return {
    doc,
    unit: "",
    example: "true",
    ...needed,
    read: (value, name, task) => {
      if (typeof value === "boolean") return value;
      throw new TypeError(
        `Cannot ${task} as '${name}' must be true or false: got ${
          inWords(value)
        }`,
      );
    },
  };
}

/** An option that is a text. */
export function textOption(doc: string, example = ""): Option<string> {
  return {
    doc,
    unit: "",
    example,
    ...needed,
    read: (value, name, task) => {
      if (typeof value === "string") return value;
      throw new TypeError(
        `Cannot ${task} as '${name}' must be a text: got ${inWords(value)}`,
      );
    },
  };
}

/** An option that is a whole number. */
export function wholeNumberOption(
  doc: string,
  { least, most = Number.MAX_SAFE_INTEGER }: { least: number; most?: number },
): Option<number> {
  return {
    doc,
    unit: "1",
    example: String(least),
    ...needed,
    read: (value, name, task) => {
      const number = typeof value === "string" && value.trim() !== ""
        ? Number(value)
        : value;
      if (typeof number !== "number") {
        throw new TypeError(
          `Cannot ${task} as '${name}' must be a whole number: got ${
            inWords(value)
          }`,
        );
      }
      if (Number.isInteger(number) && number >= least && number <= most) {
        return number;
      }
      throw new RangeError(
        `Cannot ${task} as '${name}' must be a whole number ${
          most === Number.MAX_SAFE_INTEGER
            ? `from ${least}`
            : `from ${least} to ${most}`
        }: current value is ${value}`,
      );
    },
  };
}

/** An option that is a list, each entry read by the same description. */
export function listOption<T>(
  doc: string,
  entry: Option<T>,
): Option<readonly T[]> {
  return {
    doc,
    unit: entry.unit,
    example: "",
    ...needed,
    read: (value, name, task) => {
      if (!isList(value)) {
        throw new TypeError(
          `Cannot ${task} as '${name}' must be a list: got ${inWords(value)}`,
        );
      }
      return Array.from(value, (each, index) => {
        try {
          return entry.read(each, name, task);
        } catch {
          // Lists are long: which of its entries it is, is told where it is wrong.
          return entry.read(each, `${name}[${index}]`, task);
        }
      });
    },
  };
}

/** An option that is one value for all points, or a list with one per point. */
export function perPointOption<T>(each: Option<T>): Option<T | readonly T[]> {
  const list = listOption(each.doc, each);
  return {
    ...each,
    fallback: undefined,
    read: (value, name, task) =>
      value instanceof Float64Array && areAllRead(value, each, name, task)
        ? value as ArrayLike<unknown> as readonly T[]
        : isList(value)
        ? list.read(value, name, task)
        : each.read(value, name, task),
  };
}

/** Whether numbers are as described; many that follow on each other are equal. */
function areAllRead<T>(
  values: Float64Array,
  each: Option<T>,
  name: string,
  task: string,
): boolean {
  try {
    for (let i = 0; i < values.length; i++) {
      const value = values[i]!;
      if (i === 0 || value !== values[i - 1]!) each.read(value, name, task);
    }
    return true;
  } catch {
    // The list's own message says which.
    return false;
  }
}

/** An option that is an object with options of its own. */
export function groupOption<S extends OptionSpec>(
  doc: string,
  spec: S,
): Option<ReadOptions<S>> {
  return {
    doc,
    unit: "",
    example: "",
    ...needed,
    read: (value, name, task) =>
      readOptions(spec, value, task, { within: name }),
  };
}

/** A value that was measured or stated, with its standard uncertainty. */
export interface Measured {
  /** The value, in the unit of its description. */
  readonly value: number;
  /** Standard uncertainty, in the same unit; 0 where none was stated. */
  readonly standardUncertainty: number;
}

/**
 * An option that is a value with its standard uncertainty, `{ value,
 * standardUncertainty }` such as a quantity of a result, or the value alone.
 */
export function measuredOption(value: Option<number>): Option<Measured> {
  return {
    ...value,
    fallback: undefined,
    read: (given, name, task) => {
      if (typeof given !== "object" || given === null) {
        return {
          value: value.read(given, name, task),
          standardUncertainty: 0,
        };
      }
      const fields = given as Partial<Record<keyof Measured, unknown>>;
      const uncertainty = fields.standardUncertainty ?? 0;
      const read = quantityOption({
        doc: "Standard uncertainty.",
        unit: value.unit,
        least: 0,
      });
      return {
        value: value.read(fields.value, `${name}.value`, task),
        // A result may leave it not determined.
        standardUncertainty: Number.isNaN(uncertainty)
          ? NaN
          : read.read(uncertainty, `${name}.standardUncertainty`, task),
      };
    },
  };
}

/**
 * An option that is a model of which some fields are given: the others are those
 * of the model by default.
 *
 * @param doc What it is.
 * @param defaults The whole model.
 */
export function modelOption<M extends object>(
  doc: string,
  defaults: M,
): Option<Partial<M>> {
  const fields = Object.fromEntries(
    Object.entries(defaults).map(([name, value]) => [
      name,
      optional(
        handedOption(
          "",
          typeof value === "number" ? "a number" : `a ${typeof value}`,
          (given) =>
            value === null ||
            typeof given === typeof value && given !== null,
        ),
        undefined,
      ),
    ]),
  );
  return {
    doc,
    unit: "",
    example: "",
    ...needed,
    read: (value, name, task) => {
      readOptions(fields, value, task, { within: name });
      return value as Partial<M>;
    },
  };
}

/** An option that is handed on as it is: a function, a capture, a result. */
export function handedOption<T>(
  doc: string,
  what: string,
  is: (value: unknown) => boolean,
): Option<T> {
  return {
    doc,
    unit: "",
    example: "",
    ...needed,
    read: (value, name, task) => {
      if (is(value)) return value as T;
      throw new TypeError(
        `Cannot ${task} as '${name}' must be ${what}: got ${inWords(value)}`,
      );
    },
  };
}

/** An option that is a function. */
export function functionOption<T>(doc: string): Option<T> {
  return handedOption(
    doc,
    "a function",
    (value) => typeof value === "function",
  );
}

function isList(value: unknown): value is ArrayLike<unknown> {
  return Array.isArray(value) ||
    ArrayBuffer.isView(value) && !(value instanceof DataView);
}
