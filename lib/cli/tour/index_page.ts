import { escapeHtml } from "../../display/mod.ts";
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
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 72rem; margin: 2rem auto; padding: 0 1rem; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; padding: 0.35rem 0.75rem 0.35rem 0; border-bottom: 1px solid #8884; vertical-align: top; }
</style>
</head>
<body>
<main>
<h1>The tour</h1>
<p>Each notebook ran on captures of a simulated teaching bench whose truth is known. U is the expanded uncertainty k u, about 95 %.</p>
<table>
<thead><tr>${head}</tr></thead>
<tbody>
${body.join("\n")}
</tbody>
</table>
</main>
</body>
</html>
`;
}
