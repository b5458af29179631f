import type { JsonObject } from "./message.ts";

const encoder = new TextEncoder();
const decoder = new TextDecoder("utf-8", { fatal: true });

function tolerant(_key: string, value: unknown): unknown {
  if (typeof value !== "bigint") return value;
  const number = Number(value);
  return Number.isSafeInteger(number) ? number : value.toString();
}

/**
 * Encodes a value as JSON that every client can read: NaN and infinities become
 * `null`, a BigInt becomes a number where that is exact, else text.
 *
 * @param value What to encode; `undefined` becomes `null`.
 * @returns UTF-8 bytes.
 * @throws {TypeError} If the value refers to itself.
 */
export function encodeJson(value: unknown): Uint8Array {
  let text: string | undefined;
  try {
    text = JSON.stringify(value);
  } catch {
    text = JSON.stringify(value, tolerant);
  }
  return encoder.encode(text ?? "null");
}

/**
 * @param bytes UTF-8 text of a JSON object.
 * @returns The object.
 * @throws {SyntaxError} If it is not UTF-8, not JSON or not an object.
 */
export function decodeJsonObject(bytes: Uint8Array): JsonObject {
  let value: unknown;
  try {
    value = JSON.parse(decoder.decode(bytes));
  } catch (error) {
    throw new SyntaxError(
      `Cannot read a message as a part is not JSON: ${
        (error as Error).message
      }`,
    );
  }
  if (typeof value !== "object" || value === null || Array.isArray(value)) {
    throw new SyntaxError(
      "Cannot read a message as a part is not a JSON object",
    );
  }
  return value as JsonObject;
}
