import type { ShownAxis } from "../axis.ts";
import { colourScale } from "../theme.ts";
import type { PlotlyTrace } from "./trace.ts";

/** A grid of values: `values[column * rows + row]`. */
export interface Grid {
  /** Place of each column, in the SI unit of `x`, evenly spaced. */
  readonly columns: ArrayLike<number>;
  /** Place of each row, in the SI unit of `y`, evenly spaced. */
  readonly rows: ArrayLike<number>;
  /** The values, column after column. */
  readonly values: ArrayLike<number>;
}

/**
 * A grid as a heat map in decibels, thinned by the highest value of each block
 * so that a thin line stays visible.
 *
 * @param grid The grid, of powers.
 * @param x Axis of the columns.
 * @param y Axis of the rows.
 * @param options Name of the scale, range shown, most cells each way.
 * @returns The trace.
 */
export function heatMap(
  grid: Grid,
  x: ShownAxis,
  y: ShownAxis,
  options: { name: string; range?: number; columns?: number; rows?: number },
): PlotlyTrace {
  const { name, range = 60, columns = 180, rows = 140 } = options;
  const across = Math.max(1, Math.ceil(grid.columns.length / columns));
  const up = Math.max(1, Math.ceil(grid.rows.length / rows));
  const wide = Math.ceil(grid.columns.length / across);
  const high = Math.ceil(grid.rows.length / up);
  const table = Array.from(
    { length: high },
    () => new Array<number>(wide).fill(0),
  );
  for (let column = 0; column < grid.columns.length; column++) {
    for (let row = 0; row < grid.rows.length; row++) {
      const value = grid.values[column * grid.rows.length + row]!;
      const line = table[Math.floor(row / up)]!;
      const at = Math.floor(column / across);
      if (value > line[at]!) line[at] = value;
    }
  }
  const decibels = table.map((line) =>
    line.map((value) => 10 * Math.log10(value))
  );
  let top = -Infinity;
  for (const line of decibels) {
    for (const value of line) {
      if (value > top && value < Infinity) top = value;
    }
  }
  // The background is mostly noise: its lower part becomes the lightest colour.
  const sorted = decibels.flat().filter(Number.isFinite).sort((a, b) => a - b);
  const floor = sorted[Math.floor(sorted.length / 4)] ?? top;
  const depth = Math.min(range, Math.max(10, Math.ceil(top - floor)));
  const bottom = top - depth;
  return {
    type: "heatmap",
    x: centres(grid.columns, across, wide, x),
    y: centres(grid.rows, up, high, y),
    z: decibels.map((line) =>
      line.map((value) =>
        Number.isFinite(value)
          ? Math.round(Math.max(value, bottom) - top)
          : -depth
      )
    ),
    zmin: -depth,
    zmax: 0,
    colorscale: colourScale,
    colorbar: {
      title: { text: name, side: "right" },
      thickness: 14,
      outlinewidth: 0,
    },
    hovertemplate:
      `%{x:.5~g} ${x.unit}<br>%{y:.5~g} ${y.unit}<br>%{z} dB<extra></extra>`,
  };
}

function centres(
  places: ArrayLike<number>,
  step: number,
  count: number,
  axis: ShownAxis,
): (number | null)[] {
  return Array.from({ length: count }, (_, k) => {
    const first = places[k * step]!;
    const last = places[Math.min(places.length - 1, (k + 1) * step - 1)]!;
    return axis.scale((first + last) / 2);
  });
}

/** Settings of an axis that ends where the cells of a heat map end. */
export function heatMapAxis(
  places: ArrayLike<number>,
  axis: ShownAxis,
): Record<string, unknown> {
  const half = ((places[1] ?? 0) - (places[0] ?? 0)) / 2;
  return {
    showgrid: false,
    range: [
      axis.scale((places[0] ?? 0) - half),
      axis.scale((places[places.length - 1] ?? 0) + half),
    ],
  };
}
