/**
 * Static pictures of figures, drawn inside Deno without a browser. Everything
 * heavy is loaded at the first picture.
 *
 * @module
 */
export { readAsset } from "./assets.ts";
export {
  type DrawnPicture,
  makePicture,
  type PictureMaker,
  setPictureMaker,
} from "./make_picture.ts";
export { pictureFont } from "./rasterise.ts";
