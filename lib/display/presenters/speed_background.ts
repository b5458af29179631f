import { registerPresenter } from "../../result/mod.ts";
import type { BackgroundSubtraction } from "../../speed/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import { curve, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { row } from "./rows.ts";
import { decibels } from "./speed_doppler.ts";

registerPresenter<BackgroundSubtraction>("speed.background", {
  report: (result) => ({
    title: "Spectrum without its background",
    headlines: [],
    rows: [
      row("power that the target adds", result.addedPower, "unit²"),
      row("bins", result.frequency.length),
    ],
    figures: [{
      name: "spectra",
      caption: "Spectra with and without the target, and their difference",
      draw: () => spectraFigure(result),
    }],
    method: "The density without the target is taken from that with it.",
  }),
  rows: ({ frequency, density, standardUncertainty }) =>
    Array.from(frequency, (f, k) => ({
      frequency: f,
      density: density[k]!,
      standardUncertainty: standardUncertainty[k]!,
    })),
});

function spectraFigure(result: BackgroundSubtraction) {
  const { frequency, density, standardUncertainty, diagnostics } = result;
  const both = decibels(diagnostics.withTarget);
  const without = decibels(diagnostics.withoutTarget);
  // What does not stand out of the scatter would only be clutter.
  const added = decibels(
    density.map((value, k) =>
      value > 2 * standardUncertainty[k]! ? value : NaN
    ),
  );
  const x = shownAxis("Frequency", frequency, "Hz");
  const y = shownAxis(
    "Power density, re 1 unit²/Hz",
    extremes([both, without]),
    "dB",
  );
  const line = (values: Float64Array, name: string, colour: string) =>
    curve(frequency, values, x, y, { name, colour, width: 1.2 }, 2000);
  return stackPanels([{
    y,
    traces: [
      line(both, "With target", colours.blue),
      line(without, "Without target", colours.grey),
      line(added, "Added by the target", colours.vermilion),
    ],
  }], { title: "Background taken off", x });
}
