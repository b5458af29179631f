import type {
  FitParameter,
  LinearFit,
  LineFit,
  NonlinearFit,
} from "../../fit/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { fitPanels, marks, stackPanels } from "../figures/mod.ts";
import { shownAxis } from "../axis.ts";
import { colours } from "../theme.ts";
import { headline, row } from "./rows.ts";

registerPresenter<LineFit>("fit.line", {
  report: (fit) => ({
    title: "Fit of a straight line",
    headlines: [
      headline("slope", fit.slope),
      headline("intercept", fit.intercept),
    ],
    rows: [
      row("correlation of both", fit.correlation),
      ...goodness(fit),
      row("R²", fit.rSquared),
      row("probability of χ²", fit.chiSquareProbability),
    ],
    figures: [{
      name: "fit",
      caption: "Points, fitted straight line and residuals",
      draw: () => lineFigure(fit),
    }],
    method: "Least squares.",
  }),
  rows: ({ diagnostics }) =>
    diagnostics.x.map((x, k) => ({
      x,
      y: diagnostics.y[k]!,
      fitted: diagnostics.fitted[k]!,
      residual: diagnostics.residuals[k]!,
    })),
});

registerPresenter<LinearFit>("fit.linear", {
  report: (fit) => ({
    title: "Linear fit",
    headlines: fit.parameters.map(parameterHeadline),
    rows: [...goodness(fit), row("R²", fit.rSquared)],
    figures: residualFigure(fit.diagnostics.residuals),
    method: "Linear least squares.",
  }),
  rows: ({ parameters }) => parameters.map(parameterEntry),
});

registerPresenter<NonlinearFit>("fit.nonlinear", {
  report: (fit) => ({
    title: "Nonlinear fit",
    headlines: fit.parameters.map(parameterHeadline),
    rows: [
      row("settled", fit.converged, "", fit.reason),
      row("iterations", fit.diagnostics.iterations),
      ...goodness(fit),
    ],
    figures: residualFigure(fit.diagnostics.residuals),
    method: "Nonlinear least squares by Levenberg–Marquardt.",
  }),
  rows: ({ parameters }) => parameters.map(parameterEntry),
});

function parameterHeadline(parameter: FitParameter) {
  const { name, note } = parameter;
  return headline(note === null ? name : `${name} (${note})`, parameter);
}

function parameterEntry(parameter: FitParameter) {
  const { name, value, standardUncertainty, unit, note } = parameter;
  return { name, value, standardUncertainty, unit, note: note ?? "" };
}

function goodness(
  { chiSquare, degreesOfFreedom, residualStandardDeviation }: {
    chiSquare: number;
    degreesOfFreedom: number;
    residualStandardDeviation: number;
  },
) {
  return [
    row("χ²", chiSquare),
    row("degrees of freedom", degreesOfFreedom),
    row("scatter √(χ²/ν)", residualStandardDeviation),
  ];
}

function lineFigure({ diagnostics, intercept, slope }: LineFit) {
  const { x, y, residuals } = diagnostics;
  const [low, high] = [Math.min(...x), Math.max(...x)];
  const line = (at: number) => intercept.value + slope.value * at;
  const unitX = slope.unit.split("/")[1] ?? "1";
  return fitPanels({
    title: "Straight line",
    x: { name: "x", unit: unitX },
    y: { name: "y", unit: intercept.unit },
    points: { x, y },
    fitted: { x: [low, high], y: [line(low), line(high)] },
    residuals,
  });
}

function residualFigure(residuals: readonly number[]) {
  if (residuals.length === 0) return [];
  return [{
    name: "residuals",
    caption: "Residuals of the fit, point by point",
    draw: () => {
      const x = shownAxis("Point", [residuals.length], "1");
      const y = shownAxis("Residual", residuals, "1");
      const at = residuals.map((_, k) => k + 1);
      return stackPanels([{
        y,
        axis: { zeroline: true, zerolinecolor: colours.vermilion },
        traces: [
          marks(at, residuals, x, y, {
            name: "Residual",
            colour: colours.blue,
          }),
        ],
      }], { title: "Residuals", x });
    },
  }];
}
