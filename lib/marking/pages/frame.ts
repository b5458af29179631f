import { escapeHtml } from "../../display/mod.ts";

/** A page that needs nothing else: title, style, what stands in it. */
export function pageFrame(title: string, body: string): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escapeHtml(title)}</title>
<style>
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; margin: 2rem; }
table { border-collapse: collapse; }
th, td { text-align: left; padding: 0.35rem 0.75rem; border-bottom: 1px solid #8884; vertical-align: top; }
th button { font: inherit; font-weight: bold; background: none; border: 0; padding: 0; cursor: pointer; color: inherit; }
th[aria-sort="ascending"] button::after { content: " ▲"; }
th[aria-sort="descending"] button::after { content: " ▼"; }
@media print { th button::after { content: ""; } }
</style>
</head>
<body>
<main>
${body}
</main>
</body>
</html>
`;
}

/** Sorts a table by the column whose head is pressed: numbers by `data-n`. */
export const sortScript = `<script>
for (const head of document.querySelectorAll("th button")) {
  head.addEventListener("click", () => {
    const cell = head.closest("th");
    const column = cell.cellIndex;
    const down = cell.getAttribute("aria-sort") === "ascending";
    for (const other of cell.parentNode.children) other.removeAttribute("aria-sort");
    cell.setAttribute("aria-sort", down ? "descending" : "ascending");
    const body = cell.closest("table").tBodies[0];
    const key = (row) => row.cells[column].dataset.n ?? row.cells[column].textContent;
    const rows = [...body.rows].sort((a, b) =>
      key(a).localeCompare(key(b), undefined, { numeric: true }) * (down ? -1 : 1));
    body.append(...rows);
  });
}
</script>`;
