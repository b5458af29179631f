import { encodeBase64 } from "@std/encoding/base64";
import { libraryKey, pageFigureHtml } from "../../display/mod.ts";
import {
  joinText,
  type NotebookOutput,
  type NotebookText,
} from "../notebook.ts";
import { escapeHtml } from "./escape.ts";
import type { MarkdownRenderer } from "./markdown.ts";
import { mathsHtml } from "./maths.ts";
import { sanitise } from "./sanitise.ts";
import { terminalText } from "./terminal_text.ts";

/** Longest text of one output on a page, in characters. */
const longestText = 100_000;

/**
 * One output of a cell as HTML, in the best of its forms that shows without
 * scripts: a figure's picture, HTML, markdown, a picture, a formula, text.
 *
 * @param output The output.
 * @param markdown Renders markdown outputs.
 * @returns HTML; empty where there is nothing to show.
 */
export function outputHtml(
  output: NotebookOutput,
  markdown: MarkdownRenderer,
): string {
  if (output.output_type === "stream") {
    const text = terminalText(joinText(output.text));
    return textHtml(text, output.name === "stderr" ? "stderr" : "stdout");
  }
  if (output.output_type === "error") {
    const text = terminalText(
      output.traceback.join("\n") || `${output.ename}: ${output.evalue}`,
    );
    return textHtml(text, "error");
  }
  return bundleHtml(output.data, output.metadata ?? {}, markdown);
}

function bundleHtml(
  data: Readonly<Record<string, unknown>>,
  metadata: Readonly<Record<string, unknown>>,
  markdown: MarkdownRenderer,
): string {
  const text = (mime: string): string | null => {
    const value = data[mime];
    return typeof value === "string" || Array.isArray(value)
      ? joinText(value as NotebookText)
      : null;
  };
  const caption = (text("text/plain") ?? "").slice(0, 300) || "Picture";
  const picture = (source: string, mime: string) => {
    const size = metadata[mime] as { width?: unknown } | undefined;
    const width = typeof size?.width === "number"
      ? ` width="${Math.round(size.width)}"`
      : "";
    return `<figure><img alt="${
      escapeHtml(caption)
    }"${width} src="${source}"></figure>`;
  };
  // The page brings the library of its figures itself.
  if (libraryKey in metadata) return "";
  if ("application/vnd.plotly.v1+json" in data) {
    const figure = pageFigureHtml(data);
    if (figure !== null) return figure;
  }
  const html = text("text/html");
  if (html !== null) {
    const clean = sanitise(html).trim();
    if (clean !== "") return `<div class="wide" tabindex="0">${clean}</div>`;
  }
  const source = text("text/markdown");
  if (source !== null) return markdown.render(source, () => null);
  const svg = text("image/svg+xml");
  if (svg !== null) {
    return picture(
      `data:image/svg+xml;base64,${encodeBase64(svg)}`,
      "image/svg+xml",
    );
  }
  for (const mime of ["image/png", "image/jpeg", "image/gif", "image/webp"]) {
    const base64 = text(mime)?.replace(/\s+/g, "");
    if (base64 && /^[A-Za-z0-9+/]+=*$/.test(base64)) {
      return picture(`data:${mime};base64,${base64}`, mime);
    }
  }
  const formula = text("text/latex");
  if (formula !== null) {
    return `<div class="formula">${
      mathsHtml(formula.trim().replace(/^\$+|\$+$/g, ""), true)
    }</div>`;
  }
  const plain = text("text/plain");
  if (plain !== null) return textHtml(terminalText(plain), "value");
  if ("application/json" in data) {
    return textHtml(JSON.stringify(data["application/json"], null, 2), "value");
  }
  return "";
}

function textHtml(text: string, kind: string): string {
  const trimmed = text.replace(/\n+$/, "");
  if (trimmed === "") return "";
  const long = trimmed.length - longestText;
  const shown = long > 0
    ? `${trimmed.slice(0, longestText / 2)}\n… ${long} characters left out …\n${
      trimmed.slice(-longestText / 2)
    }`
    : trimmed;
  return `<pre class="${kind}" tabindex="0">${escapeHtml(shown)}</pre>`;
}
