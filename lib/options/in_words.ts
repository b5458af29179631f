/**
 * What a value is, in plain words: `"nothing"`, `"a number (3)"`,
 * `"a Promise"`, `"a result 'motion.displacement'"`. For messages.
 */
export function inWords(value: unknown): string {
  if (value === undefined) return "nothing";
  if (value === null) return "null";
  switch (typeof value) {
    case "number":
    case "bigint":
    case "boolean":
      return `a ${typeof value} (${value})`;
    case "string":
      return `a text ("${value.slice(0, 40)}${value.length > 40 ? "…" : ""}")`;
    case "function":
      return "a function";
    case "symbol":
      return "a symbol";
  }
  if (isPromise(value)) return "a Promise";
  if (Array.isArray(value)) return listInWords("a list", value.length);
  if (ArrayBuffer.isView(value)) {
    const { length } = value as unknown as ArrayLike<unknown>;
    return listInWords(`a ${value.constructor.name}`, length ?? 0);
  }
  const { kind } = value as { kind?: unknown };
  if (typeof kind === "string") return `a result '${kind.slice(0, 60)}'`;
  if (typeof (value as { open?: unknown }).open === "function") {
    return "a stream";
  }
  const names = Object.keys(value);
  return names.length === 0
    ? "an empty object"
    : `an object with ${names.slice(0, 6).join(", ").slice(0, 80)}`;
}

function listInWords(what: string, length: number): string {
  return length === 0 ? `${what} without entries` : `${what} of ${length}`;
}

/** Whether a value is one that is still to come. */
export function isPromise(value: unknown): boolean {
  return typeof value === "object" && value !== null &&
    typeof (value as { then?: unknown }).then === "function";
}
