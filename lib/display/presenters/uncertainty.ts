import { registerPresenter } from "../../result/mod.ts";
import type { AirIndex, UncertaintyBudget } from "../../uncertainty/mod.ts";
import { shownAxis } from "../axis.ts";
import { budgetFigure, curve, stackPanels } from "../figures/mod.ts";
import { formatNumber } from "../format_number.ts";
import { formatQuantity } from "../format_quantity.ts";
import { colours } from "../theme.ts";
import { headline, percentRow, row } from "./rows.ts";

registerPresenter<UncertaintyBudget>("uncertainty.budget", {
  report: (budget) => {
    const { output, lines, monteCarlo } = budget;
    const { unit } = output;
    return {
      title: "Uncertainty budget",
      headlines: [headline("result", output)],
      rows: [
        percentRow("coverage probability", budget.coverageProbability),
        row("effective degrees of freedom", output.degreesOfFreedom),
        ...lines.map((line) =>
          row(
            line.name,
            formatQuantity(line),
            "",
            `${line.distribution}; contributes ${
              formatNumber(line.contribution, { unit, digits: 2 })
            }, ${
              formatNumber(100 * line.share, { digits: 2 })
            } % of the variance`,
          )
        ),
        ...(monteCarlo === null ? [] : [
          row("Monte Carlo: draws", monteCarlo.draws),
          row("Monte Carlo: mean", monteCarlo.mean, unit),
          row(
            "Monte Carlo: standard deviation",
            monteCarlo.standardUncertainty,
            unit,
          ),
          row(
            "Monte Carlo: shortest interval, from",
            monteCarlo.shortestInterval[0],
            unit,
          ),
          row(
            "Monte Carlo: shortest interval, to",
            monteCarlo.shortestInterval[1],
            unit,
          ),
        ]),
      ],
      figures: [
        ...(monteCarlo === null ? [] : [{
          name: "distribution",
          caption:
            "Distribution of the result by Monte Carlo with its shortest interval, and the normal curve of linear propagation",
          draw: () => distributionFigure(budget),
        }]),
        {
          name: "budget",
          caption:
            "Contributions to the standard uncertainty, largest part on top",
          draw: () =>
            budgetFigure(
              lines,
              output.standardUncertainty,
              unit,
              "Uncertainty budget",
            ),
        },
      ],
      method:
        "First-order propagation; effective degrees of freedom by Welch and Satterthwaite.",
    };
  },
  rows: ({ lines }) => lines.map((line) => ({ ...line })),
});

function distributionFigure(
  { output, monteCarlo, coverageProbability }: UncertaintyBudget,
) {
  const { histogram, shortestInterval, draws } = monteCarlo!;
  const { start, width, counts } = histogram;
  const centres = counts.map((_, k) => start + (k + 0.5) * width);
  const u = output.standardUncertainty;
  // The normal curve of linear propagation, as draws per bar.
  const normal = (value: number) =>
    draws * width / (u * Math.sqrt(2 * Math.PI)) *
    Math.exp(-((value - output.value) ** 2) / (2 * u * u));
  const grid = Array.from(
    { length: 241 },
    (_, k) => output.value + 4 * u * (k / 120 - 1),
  );
  const isNormal = u > 0 && Number.isFinite(u);
  const x = shownAxis(
    "Result",
    isNormal ? [...centres, grid[0]!, grid.at(-1)!] : centres,
    output.unit,
  );
  const y = shownAxis("Draws", [0, ...counts], "1");
  // A narrow curve rises far over broad bars: they are what is to be seen.
  const top = 1.15 * Math.max(...counts);
  const percent = formatNumber(100 * coverageProbability, { digits: 3 });
  const line = (at: number, name: string, colour: string, legend: boolean) =>
    curve([at, at], [0, top], x, y, { name, colour, dash: "dash", legend });
  return stackPanels([{
    y,
    axis: { range: [0, y.scale(top)] },
    traces: [
      {
        type: "bar",
        name: "Monte Carlo",
        x: centres.map(x.scale),
        y: counts.map(y.scale),
        marker: { color: colours.blue },
        hovertemplate: `%{x:.6~g} ${x.unit}<br>%{y} draws<extra></extra>`,
      },
      ...(isNormal
        ? [
          curve(grid, grid.map(normal), x, y, {
            name: "Linear propagation",
            colour: colours.vermilion,
            width: 2,
          }),
        ]
        : []),
      line(
        shortestInterval[0],
        `Shortest ${percent} % interval`,
        colours.black,
        true,
      ),
      line(shortestInterval[1], "Shortest interval", colours.black, false),
    ],
  }], { title: "Distribution by Monte Carlo", x, layout: { bargap: 0 } });
}

registerPresenter<AirIndex>("uncertainty.airIndex", {
  report: ({ refractiveIndex, conditions, wavelength, diagnostics }) => ({
    title: "Refractive index of air",
    headlines: [headline("phase index n", refractiveIndex)],
    rows: [
      row("n − 1", refractiveIndex.value - 1),
      row("temperature", conditions.temperature, "°C"),
      row("pressure", conditions.pressure, "Pa"),
      row("relative humidity", conditions.humidity, "%"),
      row("carbon dioxide", conditions.carbonDioxide, "µmol/mol"),
      row("vacuum wavelength", wavelength, "m"),
      row("change by 1 °C", diagnostics.sensitivities.temperature),
      row("change by 1 Pa", diagnostics.sensitivities.pressure),
      row("change by 1 % humidity", diagnostics.sensitivities.humidity),
    ],
    figures: [],
    method: "Equation for the index of moist air.",
  }),
});
