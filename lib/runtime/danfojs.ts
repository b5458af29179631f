/**
 * danfojs, fetched when it is first used, as no other module names it in a form
 * that is followed beforehand.
 *
 * What is run is the script that its package carries for pages, which holds all
 * that it needs: as modules it would fetch and load a tensor library of 270 MB.
 *
 * @module
 */
// In the import map it would be fetched before anything runs.
// deno-lint-ignore no-import-prefix
import type * as Danfojs from "npm:danfojs@1.1.2";
// deno-lint-ignore no-import-prefix
import script from "npm:danfojs@1.1.2/lib/bundle.js" with { type: "text" };
import { runDanfojs } from "./danfojs_script.ts";

const danfojs = runDanfojs(script) as typeof Danfojs;

/** Rows and columns. */
export const DataFrame: typeof Danfojs.DataFrame = danfojs.DataFrame;
/** Rows and columns. */
export type DataFrame = Danfojs.DataFrame;
/** One column. */
export const Series: typeof Danfojs.Series = danfojs.Series;
/** One column. */
export type Series = Danfojs.Series;
export const Config: typeof Danfojs.Config = danfojs.Config;
export const Dt: typeof Danfojs.Dt = danfojs.Dt;
export const LabelEncoder: typeof Danfojs.LabelEncoder = danfojs.LabelEncoder;
export const MinMaxScaler: typeof Danfojs.MinMaxScaler = danfojs.MinMaxScaler;
export const NDframe: typeof Danfojs.NDframe = danfojs.NDframe;
export const OneHotEncoder: typeof Danfojs.OneHotEncoder =
  danfojs.OneHotEncoder;
export const StandardScaler: typeof Danfojs.StandardScaler =
  danfojs.StandardScaler;
export const Str: typeof Danfojs.Str = danfojs.Str;
export const Utils: typeof Danfojs.Utils = danfojs.Utils;
export const __version: typeof Danfojs.__version = danfojs.__version;
export const concat: typeof Danfojs.concat = danfojs.concat;
export const dateRange: typeof Danfojs.dateRange = danfojs.dateRange;
export const getDummies: typeof Danfojs.getDummies = danfojs.getDummies;
export const merge: typeof Danfojs.merge = danfojs.merge;
export const readCSV: typeof Danfojs.readCSV = danfojs.readCSV;
export const readExcel: typeof Danfojs.readExcel = danfojs.readExcel;
export const readJSON: typeof Danfojs.readJSON = danfojs.readJSON;
export const streamCSV: typeof Danfojs.streamCSV = danfojs.streamCSV;
export const tensorflow: typeof Danfojs.tensorflow = danfojs.tensorflow;
export const toCSV: typeof Danfojs.toCSV = danfojs.toCSV;
export const toDateTime: typeof Danfojs.toDateTime = danfojs.toDateTime;
export const toExcel: typeof Danfojs.toExcel = danfojs.toExcel;
export const toJSON: typeof Danfojs.toJSON = danfojs.toJSON;
export default danfojs;
