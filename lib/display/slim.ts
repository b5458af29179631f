import { thinTrace } from "./thin.ts";

/** A trace of plotly.js. */
type Trace = Readonly<Record<string, unknown>>;

/** Most points of a line in a figure. */
const mostPoints = 6000;

/**
 * Makes traces fit for a notebook file: typed arrays become plain ones, and
 * lines of more points than a figure can show are thinned so that every spike
 * stays.
 *
 * @param data Traces of plotly.js.
 * @param points Most points of a line.
 * @returns The traces.
 */
export function slimTraces(
  data: readonly Trace[],
  points = mostPoints,
): Trace[] {
  return data.map((trace) => {
    const plain = mapArrays(trace, (values) => Array.from(values));
    const y = plain.y;
    const { type = "scatter", mode = "lines" } = plain;
    const isLine = (type === "scatter" || type === "scattergl") &&
      String(mode).startsWith("lines") && plain.fill === undefined;
    if (!isLine || !Array.isArray(y)) return plain;
    // Without it plotly.js draws a smooth curve as a polygon.
    plain.line = { simplify: false, ...plain.line as Trace | undefined };
    if (y.length <= points) return plain;
    const { indices } = thinTrace(y.map(Number), { points });
    const thinned = mapArrays(
      plain,
      (values) =>
        values.length === y.length
          ? Array.from(indices, (index) => values[index])
          : Array.from(values),
    );
    // A line without places along x counts its points from 0 on.
    return plain.x === undefined ? { ...thinned, x: [...indices] } : thinned;
  });
}

/**
 * Thins a figure further until it is within a limit; lines keep at least 250
 * points.
 *
 * @param figure Traces and layout of plotly.js.
 * @param limit Most characters of its JSON text.
 * @returns The figure as JSON value.
 */
export function slimFigure(
  figure: { readonly data: readonly Trace[]; readonly layout: unknown },
  limit: number,
): { data: Trace[]; layout: unknown } {
  const { layout } = figure;
  for (const points of [mostPoints, 3000, 1500, 750, 250]) {
    const text = JSON.stringify({
      data: slimTraces(figure.data, points),
      layout,
    });
    if (text.length <= limit || points === 250) return JSON.parse(text);
  }
  return { data: [...figure.data], layout };
}

/** Applies `change` to each array at the top of a trace and in its markers. */
function mapArrays(
  trace: Trace,
  change: (values: ArrayLike<unknown>) => unknown[],
): Record<string, unknown> {
  return Object.fromEntries(
    Object.entries(trace).map(([key, value]) => {
      if (Array.isArray(value)) return [key, change(value)];
      if (ArrayBuffer.isView(value) && !(value instanceof DataView)) {
        return [key, change(value as unknown as ArrayLike<unknown>)];
      }
      const nested = key === "marker" || key.startsWith("error_");
      return nested && typeof value === "object" && value !== null
        ? [key, mapArrays(value as Trace, change)]
        : [key, value];
    }),
  );
}
