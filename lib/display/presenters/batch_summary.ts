import type { BatchGroup, BatchRow, BatchSummary } from "../../batch/mod.ts";
import { registerPresenter, type ReportRow } from "../../result/mod.ts";
import { extremes, type ShownAxis, shownAxis } from "../axis.ts";
import { curve, marks, type Panel, stackPanels } from "../figures/mod.ts";
import { formatNumber } from "../format_number.ts";
import { plotText } from "../plot_text.ts";
import { colours } from "../theme.ts";
import { quantityRow, row } from "./rows.ts";

registerPresenter<BatchSummary>("batch.summary", {
  report: (summary) => ({
    title: "Summary of a batch",
    headlines: [],
    rows: [
      row("captures", summary.fileCount),
      row("measured", summary.measuredCount),
      row("with a doubtful result", summary.doubtfulCount),
      row("failed", summary.failures.length),
      ...summary.groups.map(groupRow),
      ...summary.failures.slice(0, 10).map(({ file, name, message }) =>
        row(`failed: ${file}`, `${name}: ${message}`)
      ),
      ...(summary.failures.length > 10
        ? [row("further failures", summary.failures.length - 10)]
        : []),
    ],
    figures: [
      ...(summary.groups.length === 0 ? [] : [{
        name: "values",
        caption:
          "Measured values of the most frequent quantities, capture by capture, with two standard uncertainties; open marks are doubtful, the line is the median",
        draw: () => valuesFigure(summary),
      }]),
      ...(summary.warningCounts.length === 0 ? [] : [{
        name: "warnings",
        caption: "How many captures carry each warning",
        draw: () => warningsFigure(summary),
      }]),
    ],
    method:
      "Median and scatter (1.4826 median absolute deviations) of each quantity over the captures that gave it.",
  }),
  rows: ({ diagnostics }) =>
    diagnostics.rows.map((
      { warnings, value, standardUncertainty, unit, ...texts },
    ) => ({
      ...texts,
      value,
      standardUncertainty,
      unit,
      warnings: warnings.join(" "),
    })),
});

function groupRow(group: BatchGroup): ReportRow {
  const { measurement, name, median, count, unit, scatter } = group;
  const notes = [
    count === 1 ? "one value" : `median of ${count}`,
    ...(count > 1
      ? [`scatter ${formatNumber(scatter, { unit, digits: 3 })}`]
      : []),
    ...(group.doubtfulCount > 0 ? [`${group.doubtfulCount} doubtful`] : []),
    ...(group.outliers.length > 0
      ? [`${group.outliers.length} stand apart`]
      : []),
  ];
  return quantityRow(`${measurement}: ${name}`, median, notes.join(", "));
}

/** Up to four quantities over each other, against the number of the capture. */
function valuesFigure(summary: BatchSummary) {
  const { rows } = summary.diagnostics;
  const files = [...new Set(rows.map(({ file }) => file))];
  const place = new Map(files.map((file, k) => [file, k + 1]));
  const x = shownAxis("Capture, in the order of the batch", [files.length], "");
  const shown = summary.groups.toSorted((a, b) => b.count - a.count)
    .slice(0, 4).reverse();
  const panels = shown.map((group, index) => {
    const own = rows.filter((row) => belongs(row, group));
    return valuesPanel(group, own, place, x, index + 1);
  });
  return stackPanels(panels, {
    title: "Measured values of the batch",
    x,
    height: 180 + 170 * panels.length,
    layout: { showlegend: false },
    axis: { range: [0.4, files.length + 0.6], tickformat: "d" },
  });
}

function belongs(row: BatchRow, group: BatchGroup): boolean {
  return row.measurement === group.measurement && row.kind === group.kind &&
    row.name === group.name && row.unit === group.unit &&
    Number.isFinite(row.value);
}

function valuesPanel(
  group: BatchGroup,
  rows: readonly BatchRow[],
  place: ReadonlyMap<string, number>,
  x: ShownAxis,
  panel: number,
): Panel {
  const values = rows.map(({ value }) => value);
  const [low, high] = extremes([values]);
  const name = plotText(group.name);
  const y = shownAxis(
    name.charAt(0).toUpperCase() + name.slice(1),
    [low, high],
    group.unit,
  );
  const draw = (
    chosen: readonly BatchRow[],
    symbol: string,
    colour: string,
    label: string,
  ) =>
    chosen.length === 0 ? [] : [marks(
      chosen.map(({ file }) => place.get(file) ?? NaN),
      chosen.map(({ value }) => value),
      x,
      y,
      { name: label, colour, symbol, panel },
      chosen.map(({ standardUncertainty }) => 2 * standardUncertainty),
    )];
  const median = group.median.value;
  return {
    y,
    traces: [
      curve([0.4, place.size + 0.6], [median, median], x, y, {
        name: "Median",
        colour: colours.grey,
        panel,
        dash: "dash",
      }),
      ...draw(
        rows.filter(({ doubtful }) => !doubtful),
        "circle",
        colours.blue,
        "Measured",
      ),
      ...draw(
        rows.filter(({ doubtful }) => doubtful),
        "circle-open",
        colours.vermilion,
        "Doubtful",
      ),
    ],
  };
}

function warningsFigure({ warningCounts }: BatchSummary) {
  const bars = warningCounts.slice(0, 15).toReversed();
  return {
    data: [{
      type: "bar",
      orientation: "h",
      x: bars.map(({ count }) => count),
      y: bars.map(({ code }) => plotText(code)),
      marker: {
        color: bars.map(({ doubtful }) =>
          doubtful ? colours.vermilion : colours.blue
        ),
      },
      text: bars.map(({ count }) => String(count)),
      textposition: "outside",
      cliponaxis: false,
      hovertemplate: "%{y}<br>%{x} captures<extra></extra>",
      showlegend: false,
    }],
    layout: {
      title: { text: "Warnings of the batch (orange: doubtful)" },
      height: 150 + 30 * bars.length,
      margin: { l: 64, r: 50, t: 44, b: 52 },
      xaxis: {
        title: { text: "Captures" },
        rangemode: "tozero",
        ...((bars.at(-1)?.count ?? 0) <= 10 ? { dtick: 1 } : {}),
      },
      yaxis: { showgrid: false, ticks: "", type: "category" },
    },
  };
}
