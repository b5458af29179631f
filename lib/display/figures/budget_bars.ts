import { shownAxis } from "../axis.ts";
import { plotText } from "../plot_text.ts";
import { colours } from "../theme.ts";
import type { PlotlyTrace } from "./trace.ts";

/** One bar of an uncertainty budget. */
export interface BudgetEntry {
  /** Where the uncertainty comes from. */
  readonly source: string;
  /** Contribution to the standard uncertainty, in the unit of the result. */
  readonly contribution: number;
}

/**
 * An uncertainty budget as bars, the largest on top, the combined standard
 * uncertainty under them.
 *
 * @param entries The contributions.
 * @param combined Combined standard uncertainty, in `unit`.
 * @param unit SI unit of the result.
 * @param title Title above the figure.
 * @returns Data and layout for plotly.js.
 */
export function budgetBars(
  entries: readonly BudgetEntry[],
  combined: number,
  unit: string,
  title: string,
): { data: PlotlyTrace[]; layout: Record<string, unknown> } {
  const x = shownAxis("Standard uncertainty", [0, combined], unit);
  const bare = combined > 0 ? (x.scale(combined) ?? 0) / combined : 1;
  const bars = entries
    .map(({ source, contribution }) => ({
      source: plotText(source),
      size: Math.abs(contribution),
      colour: colours.blue as string,
    }))
    .filter(({ size }) => Number.isFinite(size))
    .sort((a, b) => b.size - a.size).slice(0, 15);
  bars.push({
    source: "combined",
    size: combined,
    colour: colours.black,
  });
  bars.reverse();
  return {
    data: [{
      type: "bar",
      orientation: "h",
      x: bars.map(({ size }) => x.scale(size)),
      y: bars.map(({ source }) => source),
      marker: { color: bars.map(({ colour }) => colour) },
      text: bars.map(({ size }) => twoDigits(size * bare)),
      textposition: "outside",
      cliponaxis: false,
      hovertemplate: `%{y}<br>%{x:.3~g} ${x.unit}<extra></extra>`,
      showlegend: false,
    }],
    layout: {
      title: { text: title },
      height: 130 + 34 * bars.length,
      margin: { l: 64, r: 50, t: 44, b: 52 },
      xaxis: { title: { text: x.title }, rangemode: "tozero" },
      yaxis: { showgrid: false, ticks: "", type: "category" },
    },
  };
}

/** Two significant digits, a zero at the end kept: `"5.0"`, `"720"`. */
function twoDigits(value: number): string {
  if (value === 0 || !Number.isFinite(value)) return String(value);
  if (value >= 10) return String(Number(value.toPrecision(2)));
  return value >= 1e-4 ? value.toPrecision(2) : value.toExponential(1)
    .replace(/e-(\d+)/, "\u202f×\u202f10<sup>−$1</sup>");
}

/** The same of a budget by lines, as `propagateUncertainty` and its like give it. */
export function budgetFigure(
  lines: readonly { readonly name: string; readonly contribution: number }[],
  combined: number,
  unit: string,
  title: string,
): ReturnType<typeof budgetBars> {
  return budgetBars(
    lines.map(({ name, contribution }) => ({ source: name, contribution })),
    combined,
    unit,
    title,
  );
}
