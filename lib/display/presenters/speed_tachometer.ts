import { registerPresenter } from "../../result/mod.ts";
import type { RotationMeasurement } from "../../speed/mod.ts";
import { shownAxis } from "../axis.ts";
import {
  bandedCourse,
  budgetFigure,
  marks,
  stackPanels,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, quantityRow, row } from "./rows.ts";
import { dopplerFigure } from "./speed_doppler.ts";

registerPresenter<RotationMeasurement>("speed.tachometer", {
  report: (result) => ({
    title: "Rotation",
    headlines: [
      headline("turns per second", result.rotationRate),
      headline("turns per minute", result.revolutionsPerMinute),
    ],
    rows: [
      quantityRow("speed of the surface", result.surfaceSpeed),
      ...(result.modulationRate === null
        ? [row("change once per turn", "not found")]
        : [
          quantityRow(
            "turns per second by the change once per turn",
            result.modulationRate,
          ),
        ]),
      ...(result.marksPerTurn === null
        ? []
        : [row("marks per turn", result.marksPerTurn)]),
      ...(result.normalisedDifference === null ? [] : [
        row(
          "difference of the two ways, normalised",
          result.normalisedDifference,
        ),
      ]),
      ...(result.agrees === null
        ? []
        : [row("the two ways agree", result.agrees)]),
    ],
    figures: [
      ...(result.diagnostics.trackTime.length < 2 ? [] : [{
        name: "turns",
        caption:
          "Doppler frequency over time with its 95 % band, which changes once per turn",
        draw: () => turnsFigure(result),
      }]),
      {
        name: "budget",
        caption:
          "Where the uncertainty of the rotation comes from, largest part on top",
        draw: () =>
          budgetFigure(
            result.budget.lines,
            result.rotationRate.standardUncertainty,
            "Hz",
            "Uncertainty budget of the rotation",
          ),
      },
      {
        name: "spectrum",
        caption:
          "Spectrum of the monitor signal with the Doppler line, its fit and the other lines",
        draw: () => dopplerFigure(result.diagnostics.speed),
      },
    ],
    method:
      "Surface speed from the Doppler frequency, divided by the circumference.",
  }),
  rows: ({ budget }) => budget.lines.map((entry) => ({ ...entry })),
});

function turnsFigure({ diagnostics }: RotationMeasurement) {
  const { trackTime, trackFrequency, smoothedFrequency } = diagnostics;
  const x = shownAxis("Time", trackTime, "s");
  const y = shownAxis("Doppler frequency", trackFrequency, "Hz");
  return stackPanels([{
    y,
    traces: [
      ...bandedCourse(
        trackTime,
        smoothedFrequency,
        diagnostics.smoothedStandardUncertainty,
        x,
        y,
        { name: "Doppler frequency", colour: colours.blue },
      ),
      marks(trackTime, trackFrequency, x, y, {
        name: "Frames",
        colour: colours.grey,
      }),
    ],
  }], { title: "Doppler frequency over the turns", x });
}
