import { requireFields } from "../options/mod.ts";
import { liveFigureHtml, packedFigureOf } from "./live_figure.ts";
import { pictureHtml } from "./print_html.ts";

/**
 * A figure output of a notebook as HTML for a page: the static picture, which
 * shows without scripts, and the plotly.js specification as data beside it,
 * from which `activateFigures` makes the picture interactive.
 *
 * @param bundle MIME bundle with `image/png` (base64); the other types are used
 * where they are there.
 * @returns One `<figure>`, or `null` if the bundle has no picture.
 *
 * @example
 * ```ts
 * import { pageFigureHtml } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * const html = pageFigureHtml({
 *   "image/png": "iVBORw0KGgo=",
 *   "text/plain": "Figure: a <line>",
 *   "application/vnd.plotly.v1+json": { data: [], layout: { width: 500 } },
 * });
 * expect(html).toContain('alt="a &lt;line&gt;"');
 * ```
 */
export function pageFigureHtml(
  bundle: Readonly<Record<string, unknown>>,
): string | null {
  requireFields(bundle, "bundle", [], "make the HTML of a figure");
  const png = joined(bundle["image/png"]).replace(/\s+/g, "");
  if (!/^[A-Za-z0-9+/]+=*$/.test(png)) return null;
  const plotly = bundle["application/vnd.plotly.v1+json"];
  const { layout } = (plotly ?? {}) as { layout?: { width?: unknown } };
  const width = typeof layout?.width === "number" ? layout.width : null;
  const caption = joined(bundle["text/plain"]).replace(/^Figure: /, "") ||
    "Figure";
  // The notebook's own HTML holds more of the data than the other form.
  const packed = packedFigureOf(joined(bundle["text/html"]));
  if (packed !== null) return liveFigureHtml({ png, caption, width }, packed);
  const picture = pictureHtml({ png, caption, width });
  const data = plotly === undefined
    ? ""
    : `<script type="application/vnd.plotly.v1+json">${
      jsonInScript(plotly)
    }</script>`;
  return `<figure class="fringebook-figure" style="margin: 0.5em 0;">${picture}${data}</figure>`;
}

/**
 * JSON text that may stand in a `<script>` element: no character of it can end
 * the element or open a comment.
 *
 * @param value A JSON value.
 * @returns JSON text without `<`, `>`, `&` and line separators.
 *
 * @example
 * ```ts
 * import { jsonInScript } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * const text = jsonInScript({ note: "</script>" });
 * expect(text).not.toContain("<");
 * expect(JSON.parse(text).note).toBe("</script>");
 * ```
 */
export function jsonInScript(value: unknown): string {
  return (JSON.stringify(value) ?? "null").replace(
    /[<>&\u2028\u2029]/g,
    (character) =>
      `\\u${character.charCodeAt(0).toString(16).padStart(4, "0")}`,
  );
}

/** A multi-line string of a notebook file: one string or an array of lines. */
function joined(value: unknown): string {
  if (Array.isArray(value)) return value.map(String).join("");
  return typeof value === "string" ? value : "";
}
