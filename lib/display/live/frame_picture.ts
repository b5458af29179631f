import type { LiveFrame, TraceColumns } from "../../live/mod.ts";
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
const height = 150;
/** Width of the whole stretch, and of its zoomed end beside it. */
const wholeWidth = 420;
const zoomWidth = 240;
const zoomLeft = left + wholeWidth + 24;

/** The last stretch of the monitor signal, and its end with some fringes. */
export function tracePicture(frame: LiveFrame): string {
  const { trace, zoom, traceTime, zoomTime, reading } = frame;
  const [least, most] = extent(trace);
  const unit = reading?.unit ?? "V";
  const isFlat = !(most > least);
  const margin = isFlat
    ? Math.abs(least) * 0.01 || 1e-6
    : 0.06 * (most - least);
  const bottom = least - margin;
  const span = most + margin - bottom;
  const y = (value: number) => top + (1 - (value - bottom) / span) * height;
  const axisEnd = top + height;
  const label = (value: number) =>
    text(
      left - 6,
      Math.min(axisEnd, Math.max(top + 10, y(value) + 4)),
      formatNumber(value, { unit, digits: 4 }),
      { size: 11, anchor: "end" },
    );
  const panel = (
    from: number,
    width: number,
    columns: TraceColumns,
    time: number,
  ) =>
    `<rect x="${from}" y="${top}" width="${width}" height="${height}" fill="none" stroke="#555555"/>` +
    area(columns, from, width, y) +
    text(from, axisEnd + 16, "0", { size: 11 }) +
    text(
      from + width,
      axisEnd + 16,
      formatNumber(time, { unit: "s", digits: 3 }),
      { size: 11, anchor: "end" },
    );
  const isKnown = Number.isFinite(least);
  return svg(
    200,
    "The last stretch of the monitor signal, and its end zoomed",
    panel(left, wholeWidth, trace, traceTime) +
      panel(zoomLeft, zoomWidth, zoom, zoomTime) +
      (!isKnown ? "" : isFlat ? label(least) : label(most) + label(least)) +
      text(
        left + wholeWidth / 2,
        axisEnd + 34,
        `Time (s), monitor signal (${unit})`,
        { anchor: "middle" },
      ) +
      text(zoomLeft + zoomWidth / 2, axisEnd + 34, "its end, zoomed", {
        anchor: "middle",
      }),
  );
}

/** Between the lowest and the highest of each column. */
function area(
  { low, high }: TraceColumns,
  from: number,
  width: number,
  y: (value: number) => number,
): string {
  const upper: string[] = [];
  const lower: string[] = [];
  const step = low.length < 2 ? 0 : width / (low.length - 1);
  for (let i = 0; i < low.length; i++) {
    if (low[i] !== low[i]) continue;
    const x = (from + i * step).toFixed(1);
    upper.push(`${x},${y(high[i]!).toFixed(1)}`);
    lower.push(`${x},${y(low[i]!).toFixed(1)}`);
  }
  return upper.length === 0
    ? ""
    : `<polygon points="${
      [...upper, ...lower.reverse()].join(" ")
    }" fill="${colours.blue}" stroke="${colours.blue}" stroke-width="1"/>`;
}

function extent({ low, high }: TraceColumns): [number, number] {
  let least = Infinity;
  let most = -Infinity;
  for (let i = 0; i < low.length; i++) {
    if (low[i]! < least) least = low[i]!;
    if (high[i]! > most) most = high[i]!;
  }
  return [least, most];
}
