/** A place on a drawing, in CSS pixels from its upper left corner. */
export type Point = readonly [x: number, y: number];

/** Colours of all drawings: dark on white, also in dark pages and in print. */
export const inks = {
  line: "#1a1a1a",
  quiet: "#666666",
  faint: "#c8c8c8",
  beam: "#c0392b",
  signal: "#0072b2",
  mark: "#b34700",
  field: "#f4f4f4",
} as const;

/** How a line is drawn. */
export interface Stroke {
  /** @default {inks.line} */
  readonly colour?: string;
  /** In CSS pixels. @default {1.6} */
  readonly width?: number;
  /** Lengths of dashes and gaps, such as `"5 4"`; `""` for none. */
  readonly dash?: string;
  /** What is inside. @default {"none"} */
  readonly fill?: string;
}

/** How a text is written. */
export interface Lettering {
  /** In CSS pixels. @default {13} */
  readonly size?: number;
  /** @default {"middle"} */
  readonly anchor?: "start" | "middle" | "end";
  /** @default {false} */
  readonly bold?: boolean;
  /** @default {inks.line} */
  readonly colour?: string;
}

/** A number with two digits behind the point at most. */
export const rounded = (value: number): string =>
  String(Number(value.toFixed(2)));

function escaped(text: string): string {
  return text.replaceAll("&", "&amp;").replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;").replaceAll('"', "&quot;");
}

function element(
  name: string,
  attributes: Readonly<Record<string, string | number>>,
  content = "",
): string {
  const list = Object.entries(attributes)
    .filter(([, value]) => value !== "")
    .map(([key, value]) =>
      ` ${key}="${typeof value === "number" ? rounded(value) : escaped(value)}"`
    ).join("");
  return content === ""
    ? `<${name}${list}/>`
    : `<${name}${list}>${content}</${name}>`;
}

const strokeOf = (
  { colour = inks.line, width = 1.6, dash = "", fill = "none" }: Stroke,
) => ({
  fill,
  stroke: colour,
  "stroke-width": width,
  "stroke-dasharray": dash,
});

/** A line through points. */
export function line(points: readonly Point[], stroke: Stroke = {}): string {
  return element("polyline", {
    points: points.map(([x, y]) => `${rounded(x)},${rounded(y)}`).join(" "),
    "stroke-linejoin": "round",
    "stroke-linecap": "round",
    ...strokeOf(stroke),
  });
}

/** A closed shape through points. */
export function shape(points: readonly Point[], stroke: Stroke = {}): string {
  return element("polygon", {
    points: points.map(([x, y]) => `${rounded(x)},${rounded(y)}`).join(" "),
    "stroke-linejoin": "round",
    ...strokeOf(stroke),
  });
}

/** A rectangle. */
export function box(
  [x, y]: Point,
  width: number,
  height: number,
  stroke: Stroke = {},
  radius = 0,
): string {
  return element("rect", {
    x,
    y,
    width,
    height,
    ...(radius > 0 ? { rx: radius } : {}),
    ...strokeOf(stroke),
  });
}

/** A circle. */
export function circle(
  [x, y]: Point,
  radius: number,
  stroke: Stroke = {},
): string {
  return element("circle", { cx: x, cy: y, r: radius, ...strokeOf(stroke) });
}

/** Height of a line of text over its size (1). */
const lineHeight = 1.3;

/** One line of text, or several below each other; `at` is the first base line. */
export function label(
  [x, y]: Point,
  text: string | readonly string[],
  { size = 13, anchor = "middle", bold = false, colour = inks.line }:
    Lettering = {},
): string {
  return [text].flat().map((each, index) =>
    element("text", {
      x,
      y: y + index * size * lineHeight,
      "font-size": size,
      "text-anchor": anchor,
      "font-weight": bold ? "bold" : "",
      fill: colour,
    }, escaped(each))
  ).join("");
}

/** A number in a circle, to be explained beside the drawing. */
export function badge([x, y]: Point, text: string): string {
  return circle([x, y], 11, { fill: inks.line, width: 0 }) +
    label([x, y + 4.5], text, { size: 12, bold: true, colour: "#ffffff" });
}

/** What a whole drawing is. */
export interface DrawingFrame {
  /** In CSS pixels. */
  readonly width: number;
  readonly height: number;
  /** A short name, for those who cannot see it. */
  readonly title: string;
  /** What is to be seen, in sentences, for those who cannot see it. */
  readonly description: string;
  /** A width and a height for paper, such as `["180mm", "144mm"]`. */
  readonly paper?: readonly [string, string];
}

/**
 * A whole SVG file on a white ground of its own, without scripts, styles, or
 * anything that is loaded.
 */
export function drawing(
  { width, height, title, description, paper }: DrawingFrame,
  ...shapes: readonly string[]
): string {
  const size = paper ?? [String(width), String(height)];
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${size[0]}" height="${
    size[1]
  }" viewBox="0 0 ${width} ${height}" role="img" font-family="Verdana, 'DejaVu Sans', Arial, sans-serif">\n<title>${
    escaped(title)
  }</title>\n<desc>${escaped(description)}</desc>\n${
    [
      box([0.5, 0.5], width - 1, height - 1, {
        colour: inks.faint,
        width: 1,
        fill: "#ffffff",
      }, 6),
      ...shapes,
    ].join("\n")
  }\n</svg>\n`;
}
