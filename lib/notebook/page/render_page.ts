import { encodeBase64 } from "@std/encoding/base64";
import { activateFigures, loadPlotlyScript } from "../../display/mod.ts";
import {
  cellTags,
  joinText,
  type Notebook,
  type NotebookCell,
  type NotebookOutput,
} from "../notebook.ts";
import { contentsHtml } from "./contents.ts";
import { escapeHtml } from "./escape.ts";
import { highlight } from "./highlight.ts";
import { type LinkTarget, MarkdownRenderer } from "./markdown.ts";
import { mathsStyle } from "./maths_style.ts";
import { outputHtml } from "./output_html.ts";
import { picturesOf } from "./pictures.ts";
import { pageStyle } from "./style.ts";

/** Options of {@linkcode renderPage}. */
export interface PageOptions {
  /**
   * Title of the page.
   *
   * @default {the first heading, or "Notebook"}
   */
  title?: string;
  /**
   * Path of the notebook, for pictures beside it and for the footer.
   *
   * @default {null}
   */
  path?: string | null;
  /**
   * Whether the figures can be zoomed where scripts run; the page then carries
   * plotly.js once (about 1.4 MB).
   *
   * @default {true}
   */
  interactive?: boolean;
  /**
   * Whether the code of the cells is shown, or what they show alone.
   *
   * @default {true}
   */
  code?: boolean;
  /**
   * Rewrites links.
   *
   * @default {links to notebooks become links to their pages}
   */
  link?: LinkTarget;
}

/**
 * Makes a page of a notebook that needs nothing but itself: no network, no
 * scripts (figures are pictures first), readable by screen readers, in the dark
 * and on paper.
 *
 * @param notebook An executed notebook.
 * @param options Title, path, interactivity.
 * @returns A whole HTML document.
 *
 * @example
 * ```ts
 * import { parseNotebook, renderPage } from "fringebook/notebook";
 * import { expect } from "vitest";
 *
 * const cell = { cell_type: "markdown", metadata: {}, source: "# Half a $\\lambda$" };
 * const notebook = parseNotebook(
 *   JSON.stringify({ nbformat: 4, nbformat_minor: 5, metadata: {}, cells: [cell] }),
 * );
 * const page = await renderPage(notebook);
 * expect(page).toContain("<math");
 * expect(page).not.toContain("<script");
 * ```
 */
export async function renderPage(
  notebook: Notebook,
  options: PageOptions = {},
): Promise<string> {
  const {
    path = null,
    interactive = true,
    code = true,
    link = pageOfNotebook,
  } = options;
  const markdown = new MarkdownRenderer(link);
  const parts: string[] = [];
  for (const cell of notebook.cells) {
    parts.push(await cellHtml(cell, markdown, path, code));
  }
  const main = parts.filter((part) => part !== "").join("\n");
  const title = options.title ??
    (markdown.headings.find(({ level }) => level === 1) ??
      markdown.headings[0])?.text ??
    "Notebook";
  const contents = contentsHtml(markdown.headings);
  const live = interactive && main.includes('class="fringebook-figure"');
  const scripts = live ? [await loadPlotlyScript(), activateFigures] : [];
  const hashes = await Promise.all(scripts.map(hashOf));
  const policy = [
    "default-src 'none'",
    "img-src data: blob:",
    "font-src data:",
    "style-src 'unsafe-inline'",
    "base-uri 'none'",
    "form-action 'none'",
    ...(live ? [`script-src ${hashes.join(" ")}`] : []),
  ].join("; ");
  const classes = [
    ...(contents === "" ? [] : ["has-contents"]),
    ...(code ? [] : ["report"]),
  ];
  const bodyClass = classes.length === 0 ? "" : ` class="${classes.join(" ")}"`;
  const style = pageStyle + await mathsStyle(main + contents);
  return `<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${escapeHtml(policy)}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="generator" content="Fringebook">
<title>${escapeHtml(title)}</title>
<style>${style}</style>
</head>
<body${bodyClass}>
<a class="skip" href="#text">Skip to the text</a>
${contents}
<main class="sheet" id="text">
${main}
${footerHtml(path)}
</main>
${scripts.map((script) => `<script>${script}</script>`).join("\n")}
</body>
</html>
`;
}

async function cellHtml(
  cell: NotebookCell,
  markdown: MarkdownRenderer,
  path: string | null,
  withCode: boolean,
): Promise<string> {
  const source = joinText(cell.source);
  if (cell.cell_type === "raw") return "";
  if (cell.cell_type === "markdown") {
    const images = await picturesOf(cell, source, path);
    return `<section class="cell prose">${
      markdown.render(source, images)
    }</section>`;
  }
  const tags = cellTags(cell);
  const hidden = tags.includes("remove-cell");
  if (hidden || source.trim() === "") return "";
  // Whatever a file says it is, only a number reaches the page.
  const count = Number.isSafeInteger(cell.execution_count)
    ? Number(cell.execution_count)
    : null;
  const number = count === null || !withCode
    ? ""
    : `<span class="number" aria-label="Cell ${count}">${count}</span>`;
  const code = `<pre tabindex="0"><code>${
    highlight(source, "typescript")
  }</code></pre>`;
  const shown = tags.includes("remove-input") || !withCode
    ? ""
    : tags.includes("hide-input")
    ? `<details><summary>Code</summary>${code}</details>`
    : code;
  const outputs = tags.includes("remove-output")
    ? []
    : outputsOf(cell).map((output) => outputHtml(output, markdown))
      .filter((html) => html !== "");
  if (!withCode && outputs.length === 0) return "";
  // A group, not a landmark: a page has dozens of cells
  const label = count === null ? "Code cell" : `Code cell ${count}`;
  return `<section class="cell code" role="group" aria-label="${label}">${number}${shown}${
    outputs.length > 0 ? `<div class="outputs">${outputs.join("\n")}</div>` : ""
  }</section>`;
}

function outputsOf(cell: NotebookCell): NotebookOutput[] {
  return Array.isArray(cell.outputs)
    ? cell.outputs.filter((output) =>
      typeof output === "object" && output !== null
    )
    : [];
}

function pageOfNotebook(address: string): string {
  return /^[a-z]+:/i.test(address)
    ? address
    : address.replace(/\.ipynb(?=$|#)/, ".html");
}

function footerHtml(path: string | null): string {
  const from = path === null
    ? ""
    : ` from <code>${escapeHtml(path.split(/[\\/]/).at(-1) ?? "")}</code>`;
  return `<footer>Made with Fringebook${from}. This page works offline and without scripts.</footer>`;
}

async function hashOf(script: string): Promise<string> {
  const bytes = new TextEncoder().encode(script);
  const digest = await crypto.subtle.digest("SHA-256", bytes);
  return `'sha256-${encodeBase64(digest)}'`;
}
