import type { Vibration } from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import {
  curve,
  harmonicsFigure,
  marks,
  stackPanels,
  withinScatter,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<Vibration>("motion.vibration", {
  report: (result) => ({
    title: "Vibration",
    headlines: [
      headline("amplitude", result.amplitude),
      headline("frequency", result.frequency),
    ],
    rows: [
      quantityRow("velocity amplitude", result.velocityAmplitude),
      quantityRow("acceleration amplitude", result.accelerationAmplitude),
      quantityRow("phase at the first sample", result.phase),
      quantityRow(
        "total harmonic distortion",
        result.totalHarmonicDistortion,
      ),
      ...result.harmonics.slice(1).map(({ order, amplitude }) =>
        quantityRow(`harmonic ${order}`, amplitude)
      ),
      quantityRow("drift", result.drift),
      row("periods in the record", result.diagnostics.periods),
      row("noise left over that of the signal", result.diagnostics.excess),
    ],
    figures: [
      {
        name: "period",
        caption:
          "All periods laid over each other with the fitted harmonics, and the residuals below; samples beyond eight deviations are left out",
        draw: () => periodFigure(result),
      },
      {
        name: "harmonics",
        caption: "Amplitude of each harmonic with its standard uncertainty",
        draw: () =>
          harmonicsFigure(result.harmonics, { size: 10, tickEach: true }),
      },
    ],
    method:
      "Sine fit with its harmonics and a drift, to the fringes themselves.",
  }),
  rows: ({ harmonics }) =>
    harmonics.map(({ order, amplitude, phase }) => ({
      order,
      amplitude: amplitude.value,
      standardUncertainty: amplitude.standardUncertainty,
      phase: phase.value,
    })),
});

function periodFigure({ frequency, harmonics, diagnostics }: Vibration) {
  const { residualTimes } = diagnostics;
  const residuals = withinScatter(diagnostics.residuals);
  const model = (part: number) =>
    harmonics.reduce(
      (sum, { order, amplitude, phase }) =>
        sum +
        amplitude.value * Math.cos(2 * Math.PI * order * part + phase.value),
      0,
    );
  const grid = Array.from({ length: 401 }, (_, k) => k / 400);
  const fitted = grid.map(model);
  // Markers are slow to draw: a few hundred are enough to see the scatter.
  const stride = Math.max(1, Math.ceil(residuals.length / 600));
  const chosen = Array.from(
    { length: Math.ceil(residuals.length / stride) },
    (_, k) => k * stride,
  );
  const parts = chosen.map((k) => {
    const turns = residualTimes[k]! * frequency.value;
    return turns - Math.floor(turns);
  });
  const rests = chosen.map((k) => residuals[k]!);
  const measured = parts.map((part, k) => model(part) + rests[k]!);
  const x = shownAxis("Part of the period", [0, 1], "1");
  const y = shownAxis("Displacement", extremes([fitted, measured]), "m");
  const rest = shownAxis("Residual", rests, "m");
  return stackPanels([
    {
      y: rest,
      weight: 0.45,
      traces: [
        marks(parts, rests, x, rest, {
          name: "Residual",
          colour: colours.blue,
          legend: false,
          size: 3,
        }),
      ],
      axis: { zeroline: true, zerolinecolor: colours.vermilion },
    },
    {
      y,
      traces: [
        marks(parts, measured, x, y, {
          name: "Displacement",
          colour: colours.blue,
          panel: 2,
          size: 4,
        }),
        curve(grid, fitted, x, y, {
          name: "Fit",
          colour: colours.vermilion,
          panel: 2,
          width: 1.6,
        }),
      ],
    },
  ], { title: "One period", x, axis: { range: [0, 1] } });
}
