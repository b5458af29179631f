import type { JsonObject } from "./message.ts";

/** Reads a text field of a request; throws where it is no text. */
export function textField(content: JsonObject, field: string): string {
  const value = content[field];
  if (typeof value !== "string") {
    throw new TypeError(
      `Cannot serve the request as '${field}' must be text: current value is ${
        JSON.stringify(value)
      }`,
    );
  }
  return value;
}

/** Reads a yes-or-no field; anything but true and false gives the default. */
export function flagField(
  content: JsonObject,
  field: string,
  byDefault: boolean,
): boolean {
  const value = content[field];
  return typeof value === "boolean" ? value : byDefault;
}

/** Reads a whole number; `null` where it is none. */
export function integerField(
  content: JsonObject,
  field: string,
): number | null {
  const value = content[field];
  return typeof value === "number" && Number.isInteger(value) ? value : null;
}

/** Reads an object field; an empty one where it is missing. */
export function objectField(content: JsonObject, field: string): JsonObject {
  const value = content[field];
  return typeof value === "object" && value !== null && !Array.isArray(value)
    ? value as JsonObject
    : {};
}

/** Number of Unicode code points, the protocol's measure of a cursor. */
export function codePointCount(text: string): number {
  let count = 0;
  for (const _ of text) count++;
  return count;
}

/** Reads `code` and `cursor_pos`; a missing cursor is the end, others are kept inside. */
export function codeAndCursor(
  content: JsonObject,
): { code: string; cursor: number } {
  const code = textField(content, "code");
  const end = codePointCount(code);
  const cursor = integerField(content, "cursor_pos") ?? end;
  return { code, cursor: Math.min(Math.max(cursor, 0), end) };
}
