import { drawSvg } from "./draw_svg.ts";
import { rasterise } from "./rasterise.ts";

/** A figure as SVG text and as the bytes of a PNG file. */
export interface DrawnPicture {
  readonly svg: string;
  readonly png: Uint8Array;
}

/**
 * Draws a figure that is given as JSON text, `{ data, layout }` of plotly.js with
 * a known size, at a scale of picture pixels per CSS pixel; `null` where it cannot.
 */
export type PictureMaker = (
  json: string,
  scale: number,
) => Promise<DrawnPicture | null>;

let outside: PictureMaker | null = null;

/**
 * Sets who draws for this process, so that it need not load what draws.
 *
 * @param next The maker; `null` for none.
 */
export function setPictureMaker(next: PictureMaker | null): void {
  outside = next;
}

/** The figure drawn last: a crowded one is asked for again with fewer pixels. */
let last: { readonly json: string; readonly svg: string } | null = null;

/**
 * Draws a figure: by the maker that was set, or, where there is none or it
 * cannot, in this process.
 *
 * @param json Data and layout, as JSON text; width and height in CSS pixels.
 * @param scale Picture pixels per CSS pixel.
 * @returns SVG and PNG.
 */
export async function makePicture(
  json: string,
  scale: number,
): Promise<DrawnPicture> {
  const drawn = await outside?.(json, scale);
  if (drawn) return drawn;
  const svg = last?.json === json ? last.svg : await drawSvg(JSON.parse(json));
  last = { json, svg };
  return { svg, png: await rasterise(svg, scale) };
}
