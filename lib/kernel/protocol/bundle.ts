import { Buffer } from "node:buffer";
import type { MimeBundle } from "./interpreter.ts";

/**
 * Brings a bundle to the form of the protocol: binary as base64 text, text
 * types as one text, JSON types as they are, no empty entries.
 *
 * @param bundle Data by MIME type.
 * @returns A new bundle.
 */
export function wireBundle(bundle: MimeBundle): MimeBundle {
  const wire: MimeBundle = {};
  for (const [mime, value] of Object.entries(bundle)) {
    if (value === undefined) continue;
    if (mime === "application/json" || mime.endsWith("+json")) {
      wire[mime] = value;
    } else if (value instanceof Uint8Array) {
      wire[mime] = Buffer.from(value.buffer, value.byteOffset, value.byteLength)
        .toString("base64");
    } else if (Array.isArray(value)) {
      wire[mime] = value.join("");
    } else {
      wire[mime] = typeof value === "object" ? value : String(value);
    }
  }
  return wire;
}
