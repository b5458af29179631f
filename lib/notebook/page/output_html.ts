import { encodeBase64 } from "@std/encoding/base64";
import { libraryKey, pageFigureHtml } from "../../display/mod.ts";
import type { NotebookOutput } from "../notebook.ts";
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
    const text = terminalText(textOf(output.text) ?? "");
    return textHtml(text, output.name === "stderr" ? "stderr" : "stdout");
  }
  if (output.output_type === "error") {
    const text = terminalText(
      textOf(output.traceback, "\n") ||
        `${textOf(output.ename) ?? ""}: ${textOf(output.evalue) ?? ""}`,
    );
    return textHtml(text, "error");
  }
  return bundleHtml(objectOf(output.data), objectOf(output.metadata), markdown);
}

/** A text of a file, which may hold anything; `null` where it is none. */
function textOf(value: unknown, between = ""): string | null {
  if (typeof value === "string") return value;
  if (!Array.isArray(value)) return null;
  return value.filter((item) => typeof item === "string").join(between);
}

function objectOf(value: unknown): Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null
    ? value as Record<string, unknown>
    : {};
}

function bundleHtml(
  data: Readonly<Record<string, unknown>>,
  metadata: Readonly<Record<string, unknown>>,
  markdown: MarkdownRenderer,
): string {
  const text = (mime: string): string | null => textOf(data[mime]);
  const caption = (text("text/plain") ?? "").slice(0, 300) || "Picture";
  const picture = (source: string, mime: string) => {
    const { width: asked } = objectOf(metadata[mime]);
    const width = typeof asked === "number" && asked >= 1 && asked < 10_000
      ? ` width="${Math.round(asked)}"`
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
