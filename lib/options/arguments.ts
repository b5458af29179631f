import { inWords, isPromise } from "./in_words.ts";

/** A kind of data that a function takes. */
export interface DataForm {
  /** What it is, with its article: `"a capture"`. */
  readonly what: string;
  /** Whether a value is of this kind. */
  readonly is: (value: unknown) => boolean;
  /** What to write instead: `"pass readCapture(…)"`. */
  readonly remedy: string;
  /** What to write where a Promise was given. */
  readonly awaited: string;
}

/**
 * Refuses an argument that is missing or of another kind, in words.
 *
 * @param value The argument.
 * @param form What it must be.
 * @param task What the function does, as in "Cannot measure a speed as …".
 * @param name What the argument is called, where the form does not say it.
 * @throws {TypeError} If it is not of that form.
 */
export function requireForm(
  value: unknown,
  form: DataForm,
  task: string,
  name = "",
): void {
  if (form.is(value)) return;
  throw new TypeError(
    isPromise(value)
      ? `Cannot ${task} as ${
        name === "" ? form.what : `'${name}'`
      } is a Promise: write '${form.awaited}'`
      : `Cannot ${task} as it takes ${form.what}${
        name === "" ? "" : ` as '${name}'`
      }, and got ${inWords(value)}${
        form.remedy === "" ? "" : `: ${form.remedy}`
      }`,
  );
}

/** The fields of an object, or `null` where a value is none. */
function fieldsOf(value: unknown): Record<string, unknown> | null {
  return typeof value === "object" && value !== null
    ? value as Record<string, unknown>
    : null;
}

/** Whether a value is a list of numbers: typed or not (the first is looked at). */
function isNumbers(value: unknown): boolean {
  return ArrayBuffer.isView(value) && !(value instanceof DataView) &&
      typeof (value as unknown as ArrayLike<unknown>)[0] !== "bigint" ||
    Array.isArray(value) &&
      (value.length === 0 || typeof value[0] === "number");
}

const capture: DataForm = {
  what: "a capture",
  is: (value) => {
    const fields = fieldsOf(value);
    return fields !== null && Array.isArray(fields.channels) &&
      typeof fields.samplingRate === "number" &&
      typeof fields.sampleCount === "number";
  },
  remedy: "readCapture(…) reads one from a file",
  awaited: "await readCapture(…)",
};

const stream: DataForm = {
  what: "a capture stream",
  is: (value) => {
    const fields = fieldsOf(value);
    return fields !== null && typeof fields.blocks === "function" &&
      typeof fields.samplingRate === "number";
  },
  remedy: "openCaptureStream(…) opens one",
  awaited: "await openCaptureStream(…)",
};

/** Refuses what is not a capture. */
export function requireCapture(value: unknown, task: string): void {
  requireForm(value, capture, task);
}

/** Whether a value has the form of a capture. */
export function isCaptureLike(value: unknown): boolean {
  return capture.is(value);
}

/** Refuses what is not a stream of blocks. */
export function requireStream(value: unknown, task: string): void {
  requireForm(value, stream, task);
}

/**
 * Refuses what is not a result of one kind.
 *
 * @param kind Kind of the result, such as `"motion.displacement"`.
 * @param what It in words: `"a displacement"`.
 * @param maker What makes it: `"measureDisplacement(capture, …)"`.
 */
export function requireResult(
  value: unknown,
  kind: string | readonly string[],
  what: string,
  maker: string,
  task: string,
): void {
  requireForm(value, {
    what,
    is: (given) => {
      const own = fieldsOf(given)?.kind;
      return typeof kind === "string"
        ? own === kind
        : typeof own === "string" && kind.includes(own);
    },
    remedy: `pass ${maker}`,
    awaited: "await …",
  }, task);
}

/** Refuses what is not a list of numbers (typed arrays are best). */
export function requireNumbers(
  value: unknown,
  name: string,
  task: string,
): void {
  requireForm(
    value,
    {
      what: "a list of numbers",
      is: isNumbers,
      remedy: "",
      awaited: "await …",
    },
    task,
    name,
  );
}

/** Refuses what is not a list. */
export function requireList(value: unknown, name: string, task: string): void {
  requireForm(
    value,
    {
      what: "a list",
      is: (given) => Array.isArray(given) || ArrayBuffer.isView(given),
      remedy: "",
      awaited: "await …",
    },
    task,
    name,
  );
}

/** Refuses what is not a list of objects with these fields. */
export function requireRecords(
  value: unknown,
  name: string,
  fields: readonly string[],
  task: string,
): void {
  const example = `{ ${fields.join(", ")} }`;
  requireForm(
    value,
    {
      what: `a list of ${example}`,
      is: Array.isArray,
      remedy: "",
      awaited: "await …",
    },
    task,
    name,
  );
  (value as unknown[]).forEach((entry, index) => {
    requireFields(entry, `${name}[${index}]`, fields, task);
  });
}

/** Refuses what is not an object with these fields. */
export function requireFields(
  value: unknown,
  name: string,
  fields: readonly string[],
  task: string,
): void {
  const own = Array.isArray(value) || isPromise(value) ? null : fieldsOf(value);
  if (own !== null && fields.every((field) => own[field] !== undefined)) return;
  const missing = own === null
    ? []
    : fields.filter((field) => own[field] === undefined);
  requireForm(
    value,
    {
      what: fields.length === 0
        ? "an object"
        : `an object with ${fields.map((field) => `'${field}'`).join(", ")}`,
      is: () => false,
      remedy: missing.length === 0
        ? ""
        : `'${missing.join("', '")}' is missing`,
      awaited: "await …",
    },
    task,
    name,
  );
}

/** Refuses what is not a number; `unit` is its SI unit, `"1"` for pure numbers. */
export function requireNumber(
  value: unknown,
  name: string,
  unit: string,
  task: string,
): void {
  if (typeof value === "number") return;
  requireForm(
    value,
    {
      what: unit === "1" ? "a number" : `a number of ${unit}`,
      is: () => false,
      remedy: "",
      awaited: "await …",
    },
    task,
    name,
  );
}

/** Refuses what is not a text. */
export function requireText(value: unknown, name: string, task: string): void {
  requireForm(
    value,
    {
      what: "a text",
      is: (given) => typeof given === "string",
      remedy: "",
      awaited: "await …",
    },
    task,
    name,
  );
}

/** Refuses what is not a function. */
export function requireFunction(
  value: unknown,
  name: string,
  task: string,
): void {
  requireForm(
    value,
    {
      what: "a function",
      is: (given) => typeof given === "function",
      remedy: "",
      awaited: "await …",
    },
    task,
    name,
  );
}
