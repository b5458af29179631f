import type { Waveform } from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import { curve, harmonicsFigure, marks, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, percentRow, quantityRow, row } from "./rows.ts";

registerPresenter<Waveform>("motion.waveform", {
  report: (result) => ({
    title: "Waveform",
    headlines: [
      headline("peak to peak", result.peakToPeak),
      headline("frequency", result.frequency),
    ],
    rows: [
      quantityRow("root mean square", result.rms),
      percentRow("comes back with the period", result.periodicity),
      row("stays at two levels", result.staysAtLevels ? "yes" : "no"),
      quantityRow("step", result.step),
      quantityRow("rise time", result.riseTime),
      quantityRow("fall time", result.fallTime),
      quantityRow("slope while rising", result.risingSlope),
      quantityRow("slope while falling", result.fallingSlope),
      quantityRow("part above the middle", result.dutyCycle),
      ...(result.overshoot === null ? [] : [
        quantityRow("overshoot after the rise", result.overshoot),
      ]),
      ...(result.undershoot === null ? [] : [
        quantityRow("overshoot after the fall", result.undershoot),
      ]),
      ...(result.ringing === null ? [] : [
        quantityRow("rings at", result.ringing.naturalFrequency),
        quantityRow(
          "damping ratio of the ringing",
          result.ringing.dampingRatio,
        ),
        quantityRow(
          "quality factor of the ringing",
          result.ringing.qualityFactor,
        ),
      ]),
      ...result.harmonics.slice(0, 10).flatMap((
        { order, amplitude, gain, phaseToDrive },
      ) => [
        quantityRow(`harmonic ${order}`, amplitude),
        ...(gain === null || phaseToDrive === null ? [] : [
          quantityRow(`response at harmonic ${order}`, gain),
          quantityRow(`its phase against the drive`, phaseToDrive),
        ]),
      ]),
      quantityRow("total harmonic distortion", result.totalHarmonicDistortion),
      row("whole periods", result.diagnostics.periods),
      row("of these left out", result.diagnostics.periodsLeftOut),
    ],
    figures: [
      {
        name: "period",
        caption: "The mean of all periods with its 95 % band",
        draw: () => periodFigure(result),
      },
      {
        name: "harmonics",
        caption: "Amplitude of each harmonic with its standard uncertainty",
        draw: () => harmonicsFigure(result.harmonics, { size: 8 }),
      },
      {
        name: "drift",
        caption: "Mean of each period along the record",
        draw: () => driftFigure(result),
      },
    ],
    method:
      "The periods of the displacement are averaged, their means taken off as the drift; uncertainties come from groups of periods, each left out in turn.",
  }),
  rows: ({ time, displacement, standardUncertainty }) =>
    Array.from(time, (value, k) => ({
      time: value,
      displacement: displacement[k]!,
      standardUncertainty: standardUncertainty[k]!,
    })),
});

function periodFigure(
  { time, displacement, standardUncertainty }: Waveform,
) {
  const x = shownAxis("Time", time, "s");
  const y = shownAxis("Displacement", displacement, "m");
  const edge = (sign: 1 | -1) =>
    displacement.map((value, k) =>
      value + sign * 1.96 * standardUncertainty[k]!
    );
  return stackPanels([{
    y,
    traces: [
      curve(time, edge(1), x, y, {
        name: "95 % band",
        colour: colours.grey,
        width: 1,
        legend: false,
      }),
      curve(time, edge(-1), x, y, {
        name: "95 % band",
        colour: colours.grey,
        width: 1,
      }),
      curve(time, displacement, x, y, {
        name: "Mean period",
        colour: colours.blue,
        width: 1.8,
      }),
    ],
    axis: { zeroline: true, zerolinecolor: colours.grey },
  }], { title: "One period", x });
}

function driftFigure({ diagnostics: { driftTime, drift } }: Waveform) {
  const x = shownAxis("Time", driftTime, "s");
  const y = shownAxis("Mean displacement", drift, "m");
  return stackPanels([{
    y,
    traces: [
      marks(driftTime, drift, x, y, {
        name: "Mean of a period",
        colour: colours.blue,
        size: 4,
      }),
    ],
  }], { title: "Drift", x });
}
