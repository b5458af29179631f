import type { RecordComparison, Stability } from "../../record/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import { curve, marks, stackPanels } from "../figures/mod.ts";
import { formatNumber } from "../format_number.ts";
import { formatQuantity } from "../format_quantity.ts";
import { colours } from "../theme.ts";
import { headline, percentRow, quantityRow, row } from "./rows.ts";

/** The rules in short, as they stand beside a point. */
const words = {
  "beyond limit": "beyond 3 deviations",
  "two of three": "two of three beyond 2 deviations",
  "four of five": "four of five beyond 1 deviation",
  "eight in a row": "eight in a row on one side",
  "jump": "a step beyond its limit",
} as const;

registerPresenter<Stability>("record.stability", {
  report: (chart) => {
    const { points, baseline, reference } = chart.diagnostics;
    return {
      title: chart.inControl
        ? "Control chart: in control"
        : "Control chart: out of control",
      headlines: [headline("centre", chart.centre)],
      rows: [
        row(
          "limits",
          `centre ± ${
            formatNumber(3 * chart.deviation, { unit: chart.unit, digits: 3 })
          }`,
        ),
        row(
          "deviation from the moving ranges",
          chart.deviation,
          chart.unit,
          "mean moving range / 1.128",
        ),
        row("limit of a moving range", chart.movingRangeLimit, chart.unit),
        row("points", points.length, "", `limits from the first ${baseline}`),
        quantityRow("drift per day", chart.drift),
        percentRow(
          "probability of such a drift by chance",
          chart.driftProbability,
        ),
        ...(reference === null || chart.bias === null ? [] : [
          row("known value", reference.value, chart.unit),
          quantityRow("mean − known value", chart.bias),
        ]),
        ...chart.signals.slice(0, 12).map(({ index, rule }) =>
          row(
            `signal at point ${index + 1}`,
            words[rule],
            "",
            points[index]!.time.slice(0, 10),
          )
        ),
      ],
      figures: [{
        name: "chart",
        caption:
          "Values against time with centre and limits, points that break a rule marked; below, the moving ranges with their limit",
        draw: () => chartFigure(chart),
      }],
      method:
        "Individual values and moving ranges; four rules, which together give a false alarm in some 92 points.",
    };
  },
  rows: ({ diagnostics }) => diagnostics.points.map((point) => ({ ...point })),
});

registerPresenter<RecordComparison>("record.comparison", {
  report: (comparison) => ({
    title: "Calibration records beside each other",
    headlines: [
      headline("largest change of the tuning", comparison.largestChange),
    ],
    rows: comparison.records.flatMap((each, k) => [
      row(
        `${each.calibratedAt.slice(0, 10)}, revision ${each.revision}`,
        formatQuantity(each.tuning, { form: "plus-minus" }),
        "",
        each.temperature === null
          ? each.title
          : `${each.title}, at ${each.temperature} °C`,
      ),
      ...(k === 0 ? [] : [
        row(
          "change since the first",
          `${formatNumber(100 * each.change.value, { digits: 3 })} % ± ${
            formatNumber(100 * each.change.expandedUncertainty, { digits: 2 })
          } %`,
          "",
          `|change| / U = ${formatNumber(each.ratio, { digits: 2 })}`,
        ),
        quantityRow("zero moved by", each.zeroChange),
      ]),
    ]),
    figures: [{
      name: "records",
      caption: "Change of the tuning since the first record, bars: ± U",
      draw: () => recordsFigure(comparison),
    }],
    method:
      "Slopes of the calibration lines; what both calibrations share cancels.",
  }),
  rows: ({ records }) =>
    records.map(({ title, calibratedAt, tuning, change }) => ({
      title,
      calibratedAt,
      tuning: tuning.value,
      change: change.value,
      changeStandardUncertainty: change.standardUncertainty,
    })),
});

function chartFigure(chart: Stability) {
  const { points, movingRanges } = chart.diagnostics;
  const days = points.map(({ day }) => day);
  const values = points.map(({ value }) => value);
  const x = shownAxis("Time since the first point", [0, ...days], "d");
  const centre = chart.centre.value;
  // The offset from the centre is read off more easily than the value itself.
  const offsets = values.map((value) => value - centre);
  const half = 3 * chart.deviation;
  const y = shownAxis(
    "Value − centre",
    extremes([offsets, [-half, half]]),
    chart.unit,
  );
  const below = shownAxis(
    "Moving range",
    [0, chart.movingRangeLimit, ...movingRanges],
    chart.unit,
  );
  const ends = [days[0]!, days.at(-1)!];
  const level = (at: number, name: string, colour: string, legend: boolean) =>
    curve(ends, [at, at], x, y, {
      name,
      colour,
      panel: 2,
      dash: at === 0 ? "solid" : "dash",
      legend,
    });
  const flagged = [...new Set(chart.signals.map(({ index }) => index))];
  return stackPanels([
    {
      y: below,
      weight: 0.5,
      axis: { rangemode: "tozero" },
      traces: [
        curve(days.slice(1), movingRanges, x, below, {
          name: "Moving range",
          colour: colours.grey,
          legend: false,
        }),
        curve(
          ends,
          [chart.movingRangeLimit, chart.movingRangeLimit],
          x,
          below,
          {
            name: "Limit",
            colour: colours.vermilion,
            dash: "dash",
            legend: false,
          },
        ),
      ],
    },
    {
      y,
      traces: [
        level(0, "Centre", colours.green, true),
        level(half, "Limits: 3 deviations", colours.vermilion, true),
        level(-half, "Lower limit", colours.vermilion, false),
        curve(days, offsets, x, y, {
          name: "Values",
          colour: colours.blue,
          panel: 2,
          legend: false,
          width: 1,
        }),
        marks(days, offsets, x, y, {
          name: "Values",
          colour: colours.blue,
          panel: 2,
          size: 6,
        }),
        ...(flagged.length === 0 ? [] : [
          marks(
            flagged.map((k) => days[k]!),
            flagged.map((k) => offsets[k]!),
            x,
            y,
            {
              name: "Breaks a rule",
              colour: colours.vermilion,
              symbol: "circle-open",
              size: 14,
              panel: 2,
            },
          ),
        ]),
      ],
    },
  ], { title: "Control chart", x });
}

function recordsFigure({ records, diagnostics }: RecordComparison) {
  const { days } = diagnostics;
  const x = shownAxis("Time since the first record", days, "d");
  const changes = records.map(({ change }) => 100 * change.value);
  const bars = records.map(({ change }) => 100 * change.expandedUncertainty);
  const y = shownAxis("Change of the tuning", changes, "%");
  return stackPanels([{
    y,
    axis: { zeroline: true, zerolinecolor: colours.vermilion },
    traces: [
      marks(days, changes, x, y, {
        name: "Records, bars: ± U",
        colour: colours.blue,
      }, bars),
    ],
  }], { title: "Tuning from record to record", x });
}
