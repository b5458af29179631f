/**
 * Pages of notebooks that need nothing but themselves.
 *
 * @module
 */
export { type PageOptions, renderPage } from "./render_page.ts";
export type { ImageSource, LinkTarget } from "./markdown.ts";
export { pageStyle } from "./style.ts";
