import type { CaptureStreamCheck } from "../../capture/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import { curve, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { percentRow, quantityRow, row } from "./rows.ts";

registerPresenter<CaptureStreamCheck>("capture.stream-check", {
  report: (check) => ({
    title: `Check of a long capture: ${check.verdict}`,
    headlines: [],
    rows: [
      row("channel", check.channel),
      row("duration", check.duration, "s"),
      row("samples per channel", check.sampleCount),
      row("sampling rate", check.samplingRate, "Hz"),
      row("blocks", check.diagnostics.start.length),
      quantityRow("noise, median of the blocks", check.noise),
      row("lowest signal-to-noise ratio", check.signalToNoise.value, "dB"),
      quantityRow("fastest fringes", check.fringeRate),
      percentRow("part of the Nyquist rate", check.nyquistFraction),
      percentRow("clipped in the worst block", check.clippedFraction),
      row("missing samples", check.missingCount),
    ],
    figures: [{
      name: "blocks",
      caption: "Fringe rate and signal-to-noise ratio of each block over time",
      draw: () => blocksFigure(check),
    }],
    method: "Each block of the stream is checked by itself.",
  }),
  rows: ({ diagnostics }) =>
    Array.from(diagnostics.start, (start, k) => ({
      start,
      noise: diagnostics.noise[k]!,
      signalToNoise: diagnostics.signalToNoise[k]!,
      fringeRate: diagnostics.fringeRate[k]!,
      clippedFraction: diagnostics.clippedFraction[k]!,
    })),
});

function blocksFigure({ diagnostics, duration }: CaptureStreamCheck) {
  const { start, fringeRate, signalToNoise } = diagnostics;
  const x = shownAxis("Time", [0, duration], "s");
  const rate = shownAxis("Fringe rate", fringeRate, "Hz");
  const ratio = shownAxis("Signal to noise", signalToNoise, "dB");
  return stackPanels([
    {
      y: ratio,
      weight: 0.7,
      traces: [
        curve(start, signalToNoise, x, ratio, {
          name: "Signal-to-noise ratio",
          colour: colours.green,
          legend: false,
        }),
      ],
    },
    {
      y: rate,
      traces: [
        curve(start, fringeRate, x, rate, {
          name: "Fringe rate",
          colour: colours.blue,
          legend: false,
          panel: 2,
        }),
      ],
    },
  ], { title: "Blocks of the capture", x });
}
