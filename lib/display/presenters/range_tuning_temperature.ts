import { studentQuantile } from "../../fit/mod.ts";
import type { TuningTemperature } from "../../range/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { fitPanels, lineBand } from "../figures/mod.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<TuningTemperature>("range.tuningTemperature", {
  report: (fit) => ({
    title: "Tuning against the temperature of the diode",
    headlines: [
      headline("change per kelvin, relative", fit.relativeCoefficient),
      headline("tuning at the mean temperature", fit.tuning),
    ],
    rows: [
      quantityRow("change of dλ/dI per kelvin", fit.coefficient),
      row("mean temperature", fit.meanTemperature, "°C"),
      row("lowest temperature", fit.temperatureRange.low, "°C"),
      row("highest temperature", fit.temperatureRange.high, "°C"),
      row("calibrations", fit.diagnostics.points.length),
      quantityRow("zero of the distance scale", fit.zeroOffset),
    ],
    figures: [{
      name: "temperature",
      caption:
        "Steps per current and distance against temperature with the fitted line; below, the residuals and the 95 % band of the line",
      draw: () => temperatureFigure(fit),
    }],
    method:
      "Straight line with errors in both axes through calibrations at several temperatures.",
  }),
  rows: ({ diagnostics }) =>
    diagnostics.points.map(({ temperature, calibration }) => ({
      temperature,
      tuning: calibration.tuning.value,
      standardUncertainty: calibration.tuning.standardUncertainty,
    })),
});

function temperatureFigure(
  { diagnostics, meanTemperature }: TuningTemperature,
) {
  const { points, line } = diagnostics;
  const xs = points.map(({ temperature }) => temperature);
  const slopes = points.map(({ calibration }) =>
    calibration.stepsPerCurrentAndDistance
  );
  const freedom = line.degreesOfFreedom;
  const t = freedom >= 1 ? studentQuantile(0.975, freedom) : 1.96;
  const { fitted, band } = lineBand(
    line,
    xs.map((each) => each - meanTemperature),
    t,
  );
  const shifted = fitted.x.map((each) => each + meanTemperature);
  const at = (each: number) =>
    line.intercept.value + line.slope.value * (each - meanTemperature);
  return fitPanels({
    title: "Tuning against temperature",
    x: { name: "Temperature of the diode", unit: "°C" },
    y: { name: "Steps per current, distance", unit: "1/(A m)" },
    points: { x: xs, y: slopes.map(({ value }) => value) },
    uncertainties: slopes.map(({ standardUncertainty }) => standardUncertainty),
    fitted: { x: shifted, y: fitted.y },
    fitName: "Line",
    pointsName: "Calibrations",
    residualBand: {
      x: shifted,
      low: band.low.map((low, k) => low - fitted.y[k]!),
      high: band.high.map((high, k) => high - fitted.y[k]!),
      name: "95 % band of the line",
    },
    residuals: xs.map((each, k) => slopes[k]!.value - at(each)),
  });
}
