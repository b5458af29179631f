import { inspectText } from "./value_form.ts";

/** A variable of the notebook, for a person to look at. */
export interface Variable {
  /** Its name. */
  readonly name: string;
  /** `"number"`, `"Float64Array"`, the class of an object, `"function"`. */
  readonly kind: string;
  /** How much it holds, in words. */
  readonly size: string;
  /** The beginning of its value. */
  readonly value: string;
}

/**
 * Describes a variable.
 *
 * @param name Its name.
 * @param value Its value.
 * @returns Kind, size and the beginning of the value.
 */
export function describeVariable(name: string, value: unknown): Variable {
  return {
    name,
    kind: kindOf(value),
    size: sizeOf(value),
    value: brief(value),
  };
}

function kindOf(value: unknown): string {
  if (value === null) return "null";
  if (typeof value === "function") {
    return /^class\b/.test(Function.prototype.toString.call(value))
      ? "class"
      : "function";
  }
  if (typeof value !== "object") return typeof value;
  const { kind } = value as { kind?: unknown };
  if (typeof kind === "string" && /^\w+\.\w+$/.test(kind)) return kind;
  return Object.getPrototypeOf(value)?.constructor?.name || "Object";
}

function sizeOf(value: unknown): string {
  if (typeof value === "string") return `${value.length} characters`;
  if (typeof value !== "object" || value === null) return "";
  if (ArrayBuffer.isView(value)) {
    const { length } = value as unknown as { length?: number };
    return length === undefined
      ? bytes(value.byteLength)
      : `${length} entries, ${bytes(value.byteLength)}`;
  }
  if (value instanceof ArrayBuffer) return bytes(value.byteLength);
  if (Array.isArray(value)) return `${value.length} entries`;
  if (value instanceof Map || value instanceof Set) {
    return `${value.size} entries`;
  }
  const { shape } = value as { shape?: unknown };
  if (Array.isArray(shape)) return shape.join(" × ");
  return `${Object.keys(value).length} fields`;
}

function bytes(count: number): string {
  if (count < 1000) return `${count} bytes`;
  return count < 1e6
    ? `${(count / 1e3).toPrecision(2)} kB`
    : `${(count / 1e6).toPrecision(3)} MB`;
}

function brief(value: unknown): string {
  if (typeof value === "function") return "";
  if (ArrayBuffer.isView(value) && !(value instanceof DataView)) {
    const some = Array.from((value as unknown as Float64Array).slice(0, 4));
    return `${some.join(", ")}${some.length < 4 ? "" : ", …"}`;
  }
  let text: string;
  try {
    text = typeof value === "object" && value !== null
      ? Deno.inspect(value, { depth: 0, colors: false, iterableLimit: 3 })
      : inspectText(value);
  } catch {
    return "";
  }
  const line = text.replace(/\s+/g, " ");
  return line.length > 60 ? `${line.slice(0, 59)}…` : line;
}
