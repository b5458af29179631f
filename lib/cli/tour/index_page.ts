import { escapeHtml } from "../../display/mod.ts";
import { pageStyle } from "../../notebook/mod.ts";
import { tourHeads, type TourRow } from "./table.ts";

/**
 * The page that lists the pages of the tour with their results.
 *
 * @param rows Rows of the tour's table; a row without a notebook belongs to the
 * one above.
 * @returns HTML that needs nothing else.
 */
export function indexPage(rows: readonly TourRow[]): string {
  const head = Object.values(tourHeads)
    .map((text) => `<th scope="col">${escapeHtml(text)}</th>`).join("");
  const body = rows.map((row) => {
    const cells = Object.entries(row).map(([key, text]) =>
      key === "notebook" && text !== ""
        ? `<td><a href="${escapeHtml(text)}.html">${escapeHtml(text)}</a></td>`
        : `<td>${escapeHtml(text)}</td>`
    );
    return `<tr>${cells.join("")}</tr>`;
  });
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Fringebook: the tour</title>
<style>
${pageStyle}
.sheet { max-width: 68rem; }
td:nth-child(n+3) { white-space: nowrap; }
.wide { overflow-x: auto; }
</style>
</head>
<body>
<main class="sheet">
<h1>The tour</h1>
<p>Each notebook ran on captures of a simulated teaching bench whose truth is known. U is the expanded uncertainty k u, about 95 %. The <a href="guide/README.html">guide</a> has one page per measurement.</p>
<div class="wide" tabindex="0" role="region" aria-label="Results">
<table>
<thead><tr>${head}</tr></thead>
<tbody>
${body.join("\n")}
</tbody>
</table>
</div>
</main>
</body>
</html>
`;
}
