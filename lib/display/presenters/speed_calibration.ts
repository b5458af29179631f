import { studentQuantile } from "../../fit/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import type { SpeedCalibration } from "../../speed/mod.ts";
import { fitPanels, lineBand } from "../figures/mod.ts";
import { headline, percentRow, quantityRow, row } from "./rows.ts";

registerPresenter<SpeedCalibration>("speed.calibration", {
  report: (calibration) => ({
    title: "Calibration against known speeds",
    headlines: [
      headline("frequency per speed", calibration.sensitivity),
      headline("frequency at speed zero", calibration.offset),
    ],
    rows: [
      {
        ...quantityRow("angle of the beam", calibration.angle),
        value: calibration.angle.value * 180 / Math.PI,
        standardUncertainty: calibration.angle.standardUncertainty * 180 /
          Math.PI,
        unit: "°",
      },
      quantityRow("cosine of the angle", calibration.cosine),
      percentRow(
        "common uncertainty of the speeds",
        calibration.speedScaleRelativeStandardUncertainty,
      ),
      row("points", calibration.diagnostics.line.diagnostics.x.length),
    ],
    figures: [{
      name: "calibration",
      caption:
        "Doppler frequency against known speed with the fitted line; below, the residuals and the 95 % band of the line",
      draw: () => calibrationFigure(calibration),
    }],
    method:
      "Straight line of frequency against speed; its slope gives the cosine of the angle.",
  }),
  rows: ({ diagnostics }) => {
    const { x, y, residuals } = diagnostics.line.diagnostics;
    return x.map((speed, k) => ({
      speed,
      frequency: y[k]!,
      residual: residuals[k]!,
    }));
  },
});

function calibrationFigure({ diagnostics }: SpeedCalibration) {
  const { line } = diagnostics;
  const { x, y, residuals } = line.diagnostics;
  const freedom = line.degreesOfFreedom;
  // With two points there is no scatter: the normal quantile then.
  const t = freedom >= 1 ? studentQuantile(0.975, freedom) : 1.96;
  const { fitted, band } = lineBand(line, x, t);
  return fitPanels({
    title: "Speed calibration",
    x: { name: "Known speed", unit: "m/s" },
    y: { name: "Doppler frequency", unit: "Hz" },
    points: { x, y },
    pointsName: "Known speeds",
    fitted,
    fitName: "Line",
    residualBand: {
      x: band.x,
      low: band.low.map((low, k) => low - fitted.y[k]!),
      high: band.high.map((high, k) => high - fitted.y[k]!),
      name: "95 % band of the line",
    },
    residuals,
  });
}
