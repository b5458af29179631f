import { encodeBase64 } from "@std/encoding/base64";
import { encodePng } from "./picture/png.ts";
import { escapeHtml } from "./escape.ts";

type Bundle = Record<string, unknown>;

/** First bytes of picture files. */
const marks: readonly (readonly [string, readonly number[]])[] = [
  ["image/png", [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a]],
  ["image/jpeg", [0xff, 0xd8, 0xff]],
  ["image/gif", [0x47, 0x49, 0x46, 0x38]],
];

/**
 * The MIME bundle of a picture: SVG text, an SVG element, the bytes of a PNG,
 * JPEG or GIF file, or pixels; `null` for anything else.
 *
 * @param value Any value.
 * @returns Data by MIME type, or `null`.
 */
export function pictureBundle(value: unknown): Bundle | null {
  const svg = svgText(value);
  if (svg !== null) return svgBundle(svg);
  if (value instanceof ArrayBuffer) return pictureBundle(new Uint8Array(value));
  if (value instanceof Uint8Array) {
    const found = marks.find(([, mark]) =>
      mark.every((byte, k) => value[k] === byte)
    );
    if (found === undefined) return null;
    return {
      [found[0]]: encodeBase64(value),
      "text/plain": `Picture, ${found[0].slice(6).toUpperCase()}, ${
        sizeText(value.length)
      }`,
    };
  }
  if (isPixels(value)) {
    const { width, height, data } = value;
    return {
      "image/png": encodeBase64(encodePng(width, height, data)),
      "text/plain": `Picture of ${width} × ${height} pixels`,
    };
  }
  return null;
}

/** `"2.0 MB"`, `"12 kB"`, `"830 bytes"`. */
export function sizeText(bytes: number): string {
  if (bytes < 1000) return `${bytes} bytes`;
  return bytes < 1e6
    ? `${Math.round(bytes / 1e3)} kB`
    : `${(bytes / 1e6).toFixed(1)} MB`;
}

function svgText(value: unknown): string | null {
  const text = typeof value === "string" ? value : outerHtml(value);
  return text !== null && /^\s*(<\?xml[^>]*>\s*)?<svg[\s>]/.test(text)
    ? text
    : null;
}

/** The markup of an element of a page; `null` for anything else. */
export function outerHtml(value: unknown): string | null {
  if (typeof value !== "object" || value === null) return null;
  const { outerHTML, nodeType } = value as Record<string, unknown>;
  return nodeType === 1 && typeof outerHTML === "string" ? outerHTML : null;
}

function svgBundle(svg: string): Bundle {
  const whole = svg.includes("xmlns=")
    ? svg
    : svg.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"');
  const title = /<title>([^<]*)<\/title>/.exec(whole)?.[1] ?? "Drawing";
  return {
    // As a picture nothing in it can run, and untrusted pages show it too.
    "text/html": `<img alt="${
      escapeHtml(title)
    }" src="data:image/svg+xml;base64,${
      encodeBase64(whole)
    }" style="max-width: 100%; height: auto;">`,
    "image/svg+xml": whole,
    "text/plain": `Drawing, SVG, ${sizeText(whole.length)}`,
  };
}

function isPixels(
  value: unknown,
): value is { width: number; height: number; data: Uint8ClampedArray } {
  if (typeof value !== "object" || value === null) return false;
  const { width, height, data } = value as Record<string, unknown>;
  return data instanceof Uint8ClampedArray && typeof width === "number" &&
    typeof height === "number" && data.length === 4 * width * height;
}
