import { escapeHtml } from "./escape.ts";
import {
  type ShownReport,
  type ShownRow,
  warningMark,
} from "./shown_report.ts";

/** Inline styles: they survive where style sheets are taken out. */
const cell = "text-align: left; vertical-align: top; padding: 0.2em 0.8em;";
const headline = `${cell} font-weight: bold; font-size: 1.15em;`;
const plain = `${cell} font-weight: normal;`;
const box =
  "border-left: 0.35em solid #d55e00; padding: 0.3em 0.8em; margin: 0.5em 0;";
/** Some pages' style sheets take away the mark that shows what is folded. */
const fold = "display: list-item; cursor: pointer;";

/** A picture to stand in the page, already in a form every page may show. */
export interface EmbeddedPicture {
  /** PNG in base64. */
  readonly png: string;
  /** What the picture shows, for those who cannot see it. */
  readonly caption: string;
  /** Width on the page, in CSS pixels; `null` for the picture's own. */
  readonly width: number | null;
}

/**
 * Prints a report as HTML. No script, no style sheet, no outside address; every
 * text is escaped; colours are the page's own, so that it reads in light, dark
 * and print.
 *
 * @param report The report in words.
 * @param pictures Pictures to stand under the table.
 * @returns One `<section>`.
 */
export function printHtml(
  report: ShownReport,
  pictures: readonly EmbeddedPicture[] = [],
): string {
  const e = escapeHtml;
  const row = ({ label, text, note }: ShownRow, style: string) =>
    `<tr><th scope="row" style="${style}">${e(label)}</th>` +
    `<td style="${style}">${unbroken(e(text))}</td>` +
    `<td style="${plain}">${e(note)}</td></tr>`;
  const warnings = report.warnings.map((warning) =>
    `<p role="note" style="${box}"><strong>${warningMark(warning)}</strong> (${
      e(warning.code)
    }): ${e(warning.message)}</p>`
  );
  const rows = [
    ...report.headlines.map((shown) => row(shown, headline)),
    ...report.rows.map((shown) => row(shown, plain)),
  ];
  const table = rows.length === 0
    ? ""
    : `<table style="border-collapse: collapse;"><tbody>${
      rows.join("\n")
    }</tbody></table>`;
  const captions = report.figures.map(({ name, caption }) =>
    `<li>Figure “${e(name)}”: ${e(caption)}</li>`
  );
  const notes = [
    ...captions,
    ...(report.method === "" ? [] : [`<li>${e(report.method)}</li>`]),
    ...report.provenance.map((line) => `<li>${e(line)}</li>`),
  ];
  return [
    `<section class="fringebook-report">`,
    `<p style="font-size: 1.15em;"><strong>${e(report.title)}</strong></p>`,
    ...warnings,
    table,
    ...pictures.map(pictureHtml),
    `<details><summary style="${fold}">How it was computed</summary><ul>${
      notes.join("\n")
    }</ul></details>`,
    `</section>`,
  ].filter((part) => part !== "").join("\n");
}

/** Keeps the coverage factor on one line. */
function unbroken(text: string): string {
  return text.replace(/k = (?=[\d.]+$)/, "k&nbsp;=&nbsp;");
}

/**
 * A picture as HTML that needs no script.
 *
 * @param picture PNG in base64 and its caption.
 * @returns One `<img>`.
 */
export function pictureHtml({ png, caption, width }: EmbeddedPicture): string {
  const size = width === null ? "" : ` width="${Math.round(width)}"`;
  return `<img alt="${
    escapeHtml(caption)
  }"${size} style="max-width: 100%; height: auto;" src="data:image/png;base64,${png}">`;
}
