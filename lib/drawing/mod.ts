/**
 * Drawings of the guide and the worksheet, as SVG made by code. Knows the bench,
 * and nothing of captures but how to simulate what a screen shows.
 *
 * @module
 */
export { guideDrawings } from "./drawings/mod.ts";
export { worksheetPage } from "./worksheet.ts";
