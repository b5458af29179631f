import type { LiveFrame } from "../../live/mod.ts";
import { escapeHtml } from "../escape.ts";
import { formatNumber } from "../format_number.ts";
import { colours } from "../theme.ts";

const width = 760;
/** Where the best so far stands on the bar, in pixels. */
const bestAt = 620;

const text = (
  x: number,
  y: number,
  words: string,
  { size = 13, anchor = "start", bold = false } = {},
) =>
  `<text x="${x}" y="${y}" font-size="${size}" text-anchor="${anchor}"${
    bold ? ' font-weight="bold"' : ""
  } fill="${colours.black}">${escapeHtml(words)}</text>`;

function svg(height: number, title: string, content: string): string {
  return `<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="${
    escapeHtml(title)
  }" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" font-family="DejaVu Sans, Verdana, Arial, sans-serif" style="max-width: 100%; background: #ffffff">${content}</svg>`;
}

/** The bar that says stronger or weaker, with the best so far. */
export function barPicture(frame: LiveFrame): string {
  const { trend, best, reading } = frame;
  const { part, direction } = trend;
  const unit = reading?.unit ?? "V";
  const colour = direction === "stronger"
    ? colours.green
    : direction === "weaker"
    ? colours.vermilion
    : colours.blue;
  const arrow = direction === "stronger"
    ? "▲ stronger"
    : direction === "weaker"
    ? "▼ weaker"
    : "steady";
  const length = Math.max(2, Math.min(1, part) * bestAt);
  const isKnown = best > 0 && reading !== null;
  return svg(
    56,
    `Fringes: ${Math.round(100 * part)} % of the best so far, ${direction}`,
    `<rect x="0" y="2" width="${width}" height="30" fill="#eeeeee"/>` +
      (isKnown
        ? `<rect x="0" y="2" width="${
          length.toFixed(1)
        }" height="30" fill="${colour}"/>` +
          `<rect x="${bestAt}" y="0" width="3" height="34" fill="${colours.black}"/>` +
          text(
            0,
            49,
            `fringes ${formatNumber(reading.fringes, { unit, digits: 3 })}, ${
              Math.round(100 * part)
            } % of the best`,
          ) +
          text(
            bestAt,
            49,
            `best ${formatNumber(best, { unit, digits: 3 })}`,
            { anchor: "middle" },
          )
        : text(0, 49, "fringes do not count now")) +
      text(width - 4, 22, arrow, { size: 16, anchor: "end", bold: true }),
  );
}

const left = 66;
const top = 8;
const panel = { width: width - left - 8, height: 150 };

/** The last stretch of the monitor signal. */
export function tracePicture(frame: LiveFrame): string {
  const { trace, traceTime, reading } = frame;
  const { low, high } = trace;
  let least = Infinity;
  let most = -Infinity;
  for (let i = 0; i < low.length; i++) {
    if (low[i]! < least) least = low[i]!;
    if (high[i]! > most) most = high[i]!;
  }
  const unit = reading?.unit ?? "V";
  const isFlat = !(most > least);
  const margin = isFlat
    ? Math.abs(least) * 0.01 || 1e-6
    : 0.06 * (most - least);
  const bottom = least - margin;
  const span = most + margin - bottom;
  const x = (i: number) =>
    left + (low.length < 2 ? 0 : i / (low.length - 1) * panel.width);
  const y = (value: number) =>
    top + (1 - (value - bottom) / span) * panel.height;
  const at = (i: number, value: number) =>
    `${x(i).toFixed(1)},${y(value).toFixed(1)}`;
  const upper: string[] = [];
  const lower: string[] = [];
  for (let i = 0; i < low.length; i++) {
    if (low[i] !== low[i]) continue;
    upper.push(at(i, high[i]!));
    lower.push(at(i, low[i]!));
  }
  const axisEnd = top + panel.height;
  const label = (value: number) =>
    text(
      left - 6,
      Math.min(axisEnd, Math.max(top + 10, y(value) + 4)),
      formatNumber(value, { unit, digits: 4 }),
      { size: 11, anchor: "end" },
    );
  return svg(
    200,
    "The last stretch of the monitor signal",
    `<rect x="${left}" y="${top}" width="${panel.width}" height="${panel.height}" fill="none" stroke="#555555"/>` +
      (upper.length === 0
        ? ""
        : `<polygon points="${
          [...upper, ...lower.reverse()].join(" ")
        }" fill="${colours.blue}" stroke="${colours.blue}" stroke-width="1"/>` +
          (isFlat ? label(least) : label(most) + label(least))) +
      text(left, axisEnd + 16, "0", { size: 11 }) +
      text(
        left + panel.width,
        axisEnd + 16,
        formatNumber(traceTime, { unit: "s", digits: 3 }),
        { size: 11, anchor: "end" },
      ) +
      text(
        left + panel.width / 2,
        axisEnd + 34,
        `Time (s), monitor signal (${unit})`,
        { anchor: "middle" },
      ),
  );
}
