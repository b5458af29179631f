import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireFields,
} from "../options/mod.ts";
import { encodeBase64 } from "@std/encoding/base64";
import { makePicture } from "./picture/mod.ts";
import { metadataSymbol } from "./bundle_metadata.ts";
import { oneLine } from "./escape.ts";
import type { Figure } from "./figure.ts";
import { publishFigureLibrary } from "./figure_library.ts";
import { liveFigureHtml, packFigure } from "./live_figure.ts";
import { slimFigure } from "./slim.ts";
import { defaultHeight, defaultWidth } from "./theme.ts";

/** A figure as a picture that needs no script. */
export interface Picture {
  /** The bytes of a PNG file. */
  readonly png: Uint8Array;
  /** The same as SVG text. */
  readonly svg: string;
  /** Size on the page, in CSS pixels. */
  readonly width: number;
  /** Size on the page, in CSS pixels. */
  readonly height: number;
}

/** Options of {@linkcode drawPicture}. */
export interface DrawPictureOptions {
  /**
   * Picture pixels per CSS pixel.
   *
   * @default {2}
   */
  scale?: number;
}

export const pictureSpec = {
  scale: optional(
    optionOf.between("Picture pixels per CSS pixel.", 0.1, 10),
    2,
  ),
} satisfies Record<keyof DrawPictureOptions, Option>;

/**
 * Draws a figure as a static picture. The first picture of a session loads
 * plotly.js and the rasteriser, about one second.
 *
 * @param figure The figure.
 * @param options Scale.
 * @returns PNG and SVG.
 *
 * @example
 * ```ts
 * import { createFigure, drawPicture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const figure = createFigure({ data: [{ y: [1, 2] }], caption: "A line" });
 * const picture = await drawPicture(figure, { scale: 1 });
 * expect([...picture.png.slice(1, 4)]).toEqual([80, 78, 71]); // "PNG"
 * ```
 */
export async function drawPicture(
  figure: Figure,
  options: DrawPictureOptions = {},
): Promise<Picture> {
  const task = "draw a picture";
  requireFields(figure, "figure", ["data", "layout"], task);
  const { scale } = readOptions(pictureSpec, options, task);
  const { width = defaultWidth, height = defaultHeight } = figure.layout as {
    width?: number;
    height?: number;
  };
  const json = JSON.stringify({
    data: figure.data,
    layout: { ...figure.layout, width, height },
  });
  return { ...await makePicture(json, scale), width, height };
}

/** Most characters of a figure in a notebook, in all its forms. */
const bundleLimit = 300_000;

/** Most characters of the data that a live figure is drawn from. */
const liveLimit = 150_000;

/** Most characters of the data for clients with a renderer of their own. */
const rendererLimit = 60_000;

/**
 * The MIME bundle of a figure: HTML with its picture, which becomes live where
 * the notebook's scripts may run; the picture alone; plotly.js data for clients
 * that draw it; one line of text. The HTML has no script of its own: one would
 * leave nothing where scripts do not run.
 *
 * @param figure The figure.
 * @returns Data by MIME type.
 */
export async function figureBundle(
  figure: Figure,
): Promise<Record<string, unknown>> {
  const { png: bytes, width, height } = await drawPicture(figure);
  let png = encodeBase64(bytes);
  const make = (live: number, renderer: number) => ({
    "application/vnd.plotly.v1+json": {
      ...slimFigure(figure, renderer),
      config: {
        responsive: true,
        displaylogo: false,
        modeBarButtonsToRemove: ["sendChartToCloud", "lasso2d", "select2d"],
      },
    },
    "text/html": liveFigureHtml(
      { png, caption: figure.caption, width },
      packFigure(slimFigure(figure, live)),
    ),
    "image/png": png,
    "text/plain": `Figure: ${oneLine(figure.caption)}`,
  });
  let bundle = make(liveLimit, rendererLimit);
  for (let part = 2; part <= 8 && sizeOf(bundle) > bundleLimit; part *= 2) {
    bundle = make(liveLimit / part, rendererLimit / part);
  }
  // The picture stands in it twice: a crowded one gets fewer pixels.
  for (
    let scale = 1.5;
    scale >= 1 && sizeOf(bundle) > bundleLimit;
    scale /= 1.5
  ) {
    png = encodeBase64((await drawPicture(figure, { scale })).png);
    bundle = make(liveLimit / 8, rendererLimit / 8);
  }
  await publishFigureLibrary();
  return {
    ...bundle,
    // Pictures have up to twice the pixels of their place on the page.
    [metadataSymbol]: { "image/png": { width, height } },
  };
}

function sizeOf(bundle: unknown): number {
  return JSON.stringify(bundle).length;
}
