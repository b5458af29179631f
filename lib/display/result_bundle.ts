import { encodeBase64 } from "@std/encoding/base64";
import type { Report, ReportFigure, Result } from "../result/mod.ts";
import { currentCell } from "./cell.ts";
import { createFigure, type Figure } from "./figure.ts";
import { bundleMetadata } from "./bundle_metadata.ts";
import { drawPicture, figureBundle } from "./figure_bundle.ts";
import { type EmbeddedPicture, printHtml } from "./print_html.ts";
import { printJson } from "./print_json.ts";
import { printMarkdown } from "./print_markdown.ts";
import { printText } from "./print_text.ts";
import { reportOf } from "./report_of.ts";
import { shownReport } from "./shown_report.ts";

/** MIME type of a report as data, for programs that read executed notebooks. */
export const reportMimeType = "application/vnd.fringebook.report+json";

/**
 * The MIME bundle of a result: its report as HTML, Markdown, text and data. In a
 * notebook session its first figure is published as an output of its own above
 * the table, so that no frontend shows the figure in place of the warnings;
 * elsewhere the picture stands inside the HTML.
 *
 * @param result A result.
 * @returns Data by MIME type.
 */
export async function resultBundle(
  result: Result,
): Promise<Record<string, unknown>> {
  const report = reportOf(result);
  const pictures: EmbeddedPicture[] = [];
  const failures: string[] = [];
  const [first] = report.figures;
  const cell = currentCell();
  if (first !== undefined) {
    try {
      const figure = drawReportFigure(first);
      if (cell !== null) {
        const data = await figureBundle(figure);
        cell.publish({
          type: "display_data",
          data,
          metadata: bundleMetadata(data),
          displayId: null,
        });
      } else {
        const { png, width } = await drawPicture(figure);
        pictures.push({
          png: encodeBase64(png),
          caption: figure.caption,
          width,
        });
      }
    } catch (error) {
      failures.push(
        `the figure '${first.name}' could not be drawn: ${
          error instanceof Error ? error.message : String(error)
        }`,
      );
    }
  }
  const shown = shownReport(result, {
    ...report,
    rows: [
      ...report.rows,
      ...failures.map((value) => ({ label: "display", value })),
    ],
  });
  return {
    "text/html": printHtml(shown, pictures),
    "text/markdown": printMarkdown(shown),
    "text/plain": printText(shown),
    [reportMimeType]: printJson(result),
  };
}

/** Draws a figure of a report in the theme. */
export function drawReportFigure(figure: ReportFigure): Figure {
  const { data, layout } = figure.draw();
  return createFigure({
    data: data as Record<string, unknown>[],
    layout,
    caption: figure.caption,
  });
}

/**
 * A figure of a result: the first, or the named one.
 *
 * @param result A result.
 * @param name Name of a figure of its report.
 * @returns The figure.
 * @throws {RangeError} If the result has no figure, or none of that name.
 */
export function resultFigure(result: Result, name?: string): Figure {
  const { figures, title }: Report = reportOf(result);
  const found = name === undefined
    ? figures[0]
    : figures.find((figure) => figure.name === name);
  if (found !== undefined) return drawReportFigure(found);
  if (figures.length === 0) {
    throw new RangeError(
      `Cannot draw a figure of '${title}' as a result of kind '${result.kind}' has none`,
    );
  }
  throw new RangeError(
    `Cannot draw the figure '${name}' of '${title}' as its figures are: ${
      figures.map((figure) => `'${figure.name}'`).join(", ")
    }`,
  );
}
