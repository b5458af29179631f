import { studentQuantile } from "../../fit/mod.ts";
import type { TuningCalibration } from "../../range/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { fitPanels, lineBand } from "../figures/mod.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<TuningCalibration>("range.tuning", {
  report: (calibration) => {
    const { points, linearity } = calibration.diagnostics;
    const { distanceRange, currentRange } = calibration;
    const outliers = points.filter(({ outlier }) => outlier);
    return {
      title: "Tuning calibration of the diode",
      headlines: [
        headline("tuning dλ/dI", calibration.tuning),
        headline("zero of the distance scale", calibration.zeroOffset),
      ],
      rows: [
        quantityRow("frequency tuning dν/dI", calibration.frequencyTuning),
        quantityRow(
          "steps per current and distance",
          calibration.stepsPerCurrentAndDistance,
        ),
        row("correlation of slope and zero", calibration.correlation),
        quantityRow("wavelength", calibration.wavelength),
        row("index of air", calibration.refractiveIndex.toFixed(6)),
        row("lowest current", currentRange.low, "A"),
        row("highest current", currentRange.high, "A"),
        row("nearest reference", distanceRange.low, "m"),
        row("farthest reference", distanceRange.high, "m"),
        row("ramps per second", calibration.modulationFrequency, "Hz"),
        row("reference distances", points.length),
        row(
          "flagged as outliers",
          outliers.length,
          "",
          outliers.map(({ distance }) => `${1000 * distance} mm`).join(", "),
        ),
        row(
          "probability of such a bend by chance",
          linearity.probability,
          "",
          "below 0.05: the line may be bent",
        ),
      ],
      figures: [{
        name: "calibration",
        caption:
          "Steps per current against known distance with the fitted line; below, the residuals of the distances and the 95 % band of the line",
        draw: () => calibrationFigure(calibration),
      }],
      method:
        "Straight line with errors in both axes through steps per current against distance; its slope gives dλ/dI = (λ²/2n) d²N/dI dL.",
    };
  },
  rows: ({ diagnostics }) => diagnostics.points.map((point) => ({ ...point })),
});

function calibrationFigure({ diagnostics }: TuningCalibration) {
  const { points, line } = diagnostics;
  const xs = points.map(({ distance }) => distance);
  const freedom = line.degreesOfFreedom;
  // With two points there is no scatter: the normal quantile then.
  const t = freedom >= 1 ? studentQuantile(0.975, freedom) : 1.96;
  const { fitted, band } = lineBand(line, xs, t);
  return fitPanels({
    title: "Tuning calibration",
    x: { name: "Known distance", unit: "m" },
    y: { name: "Steps per current", unit: "1/A" },
    points: { x: xs, y: points.map(({ stepsPerCurrent }) => stepsPerCurrent) },
    uncertainties: points.map(({ stepsStandardUncertainty }) =>
      stepsStandardUncertainty
    ),
    fitted,
    fitName: "Line",
    pointsName: "Reference distances",
    // Beside the line itself it is thinner than a hair.
    residualBand: {
      x: band.x,
      low: band.low.map((low, k) => (low - fitted.y[k]!) / line.slope.value),
      high: band.high.map((high, k) =>
        (high - fitted.y[k]!) / line.slope.value
      ),
      name: "95 % band of the line",
    },
    residuals: points.map(({ residual }) => residual),
    residual: { name: "By line − known", unit: "m" },
    residualUncertainties: points.map((point) =>
      Math.hypot(
        point.distanceStandardUncertainty,
        point.stepsStandardUncertainty / line.slope.value,
      )
    ),
    flagged: points.map(({ outlier }) => outlier),
  });
}
