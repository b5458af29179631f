/**
 * Static pictures of figures, drawn inside Deno without a browser. Everything
 * heavy is loaded at the first picture.
 *
 * @module
 */
export { readAsset } from "./assets.ts";
export { type DrawnFigure, drawSvg } from "./draw_svg.ts";
export { pictureFont, rasterise } from "./rasterise.ts";
