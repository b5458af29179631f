import type { LongMotion } from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import { curve, logarithmic, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<LongMotion>("motion.long-motion", {
  report: (result) => ({
    title: "Motion over a long capture",
    headlines: [
      headline("net displacement", result.netDisplacement),
      headline("peak to peak", result.peakToPeak),
    ],
    rows: [
      quantityRow("path, both ways", result.path),
      quantityRow("fringes, both ways", result.fringeCount),
      quantityRow("fringes, net", result.netFringeCount),
      row("turning points", result.turningPoints),
      ...(result.amplitude === null || result.frequency === null ? [] : [
        quantityRow("vibration amplitude", result.amplitude),
        quantityRow("vibration frequency", result.frequency),
        ...result.harmonics.slice(1).map((amplitude, k) =>
          quantityRow(`harmonic ${k + 2}`, amplitude)
        ),
      ]),
      row("rms uncertainty of a sample", result.rmsUncertainty, "m"),
      quantityRow("feedback parameter C", result.feedbackParameter),
      quantityRow(
        "linewidth enhancement factor α",
        result.linewidthEnhancementFactor,
      ),
      row("feedback regime", result.regime),
      row("duration", result.duration, "s"),
      row("samples", result.sampleCount),
      row("bandwidth", result.diagnostics.bandwidth, "Hz"),
    ],
    figures: [
      {
        name: "course",
        caption:
          "Mean displacement in each bin of time, with the lowest and highest",
        draw: () => courseFigure(result),
      },
      ...(result.diagnostics.spectrumDensity.length === 0 ? [] : [{
        name: "spectrum",
        caption: "Amplitude spectral density of the displacement",
        draw: () => spectrumFigure(result),
      }]),
    ],
    method:
      "Phase unwrapping block by block, with C, α and the levels of the first samples.",
  }),
  rows: ({ diagnostics: { time, mean, lowest, highest } }) =>
    Array.from(time, (at, k) => ({
      time: at,
      mean: mean[k]!,
      lowest: lowest[k]!,
      highest: highest[k]!,
    })),
});

function courseFigure({ diagnostics, duration }: LongMotion) {
  const { time, mean, lowest, highest } = diagnostics;
  const x = shownAxis("Time", [0, duration], "s");
  const y = shownAxis("Displacement", extremes([lowest, highest]), "m");
  return stackPanels([{
    y,
    traces: [
      curve(time, lowest, x, y, { name: "Lowest", colour: colours.blue }),
      curve(time, highest, x, y, { name: "Highest", colour: colours.green }),
      curve(time, mean, x, y, { name: "Mean", colour: colours.vermilion }),
    ],
  }], { title: "Displacement over time", x });
}

function spectrumFigure({ diagnostics }: LongMotion) {
  const frequency = diagnostics.spectrumFrequency.slice(1);
  const density = diagnostics.spectrumDensity.slice(1);
  const x = shownAxis("Frequency", frequency, "Hz");
  const y = shownAxis("Density", density, "m/√Hz", "logarithmic");
  return stackPanels([{
    y,
    axis: logarithmic(density, y),
    traces: [
      curve(frequency, density, x, y, {
        name: "Displacement",
        colour: colours.blue,
        legend: false,
      }),
    ],
  }], { title: "Spectrum of the displacement", x });
}
