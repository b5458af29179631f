import { encodeBase64 } from "@std/encoding/base64";
import { zlibModule } from "../runtime/mod.ts";
import { type EmbeddedPicture, pictureHtml } from "./print_html.ts";

/** Attribute that holds what a figure is drawn from, packed. */
export const figureAttribute = "data-fringebook-figure";

/**
 * A figure as HTML without a script: its picture, and beside it, where no
 * reader sees it, what plotly.js needs to draw it. `activateFigures` makes such
 * a picture live where scripts may run; a page that takes out what it does not
 * know leaves the picture.
 *
 * @param picture The picture.
 * @param packed The specification from {@linkcode packFigure}.
 * @returns One `<figure>`.
 */
export function liveFigureHtml(
  picture: EmbeddedPicture,
  packed: string,
): string {
  return `<figure class="fringebook-figure" ${figureAttribute}="${packed}" style="margin: 0.5em 0;">${
    pictureHtml(picture)
  }</figure>`;
}

/**
 * Packs data and layout of a figure: JSON, deflated (RFC 1950), in base64.
 *
 * @param figure A JSON value.
 * @returns Text of base64 characters.
 */
export function packFigure(figure: unknown): string {
  return packText(JSON.stringify(figure));
}

/** Deflates (RFC 1950) a text and writes it in base64. */
export function packText(text: string | Uint8Array): string {
  return encodeBase64(zlibModule().deflateSync(text, { level: 9 }));
}

/** The packed figure in HTML of {@linkcode liveFigureHtml}, else `null`. */
export function packedFigureOf(html: string): string | null {
  const found =
    /^<figure class="fringebook-figure" data-fringebook-figure="([A-Za-z0-9+/]+=*)"/
      .exec(html);
  return found?.[1] ?? null;
}
