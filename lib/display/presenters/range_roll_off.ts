import type { ThermalLag, TuningRollOff } from "../../range/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import { curve, logarithmic, marks, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<TuningRollOff>("range.rollOff", {
  report: (result) => ({
    title: "Tuning against the modulation frequency",
    headlines: [
      headline("thermal tuning at low frequency", result.thermalTuning),
      headline("corner frequency", result.cornerFrequency),
    ],
    rows: [
      quantityRow("carrier tuning", result.carrierTuning),
      row("points", result.diagnostics.frequencies.length),
    ],
    figures: [{
      name: "roll-off",
      caption:
        "Tuning coefficient against the modulation frequency with the fit",
      draw: () => {
        const { frequencies, tunings, fitted } = result.diagnostics;
        const x = shownAxis(
          "Ramps per second",
          frequencies,
          "Hz",
          "logarithmic",
        );
        const y = shownAxis(
          "Tuning dλ/dI",
          extremes([tunings, fitted]),
          "m/A",
        );
        const order = frequencies.map((_, k) => k)
          .sort((a, b) => frequencies[a]! - frequencies[b]!);
        return stackPanels([{
          y,
          traces: [
            curve(
              order.map((k) => frequencies[k]!),
              order.map((k) => fitted[k]!),
              x,
              y,
              { name: "Fit", colour: colours.vermilion, width: 1.8 },
            ),
            marks(frequencies, tunings, x, y, {
              name: "Calibrations",
              colour: colours.blue,
            }),
          ],
        }], {
          title: "Roll-off of the tuning",
          x,
          axis: logarithmic(frequencies, x),
        });
      },
    }],
    method: "One thermal low-pass beside an even carrier part.",
  }),
  rows: ({ diagnostics }) =>
    diagnostics.frequencies.map((modulationFrequency, k) => ({
      modulationFrequency,
      tuning: diagnostics.tunings[k]!,
      fitted: diagnostics.fitted[k]!,
    })),
});

registerPresenter<ThermalLag>("range.thermalLag", {
  report: (result) => ({
    title: "Thermal lag of the wavelength",
    headlines: [headline("time constant", result.timeConstant)],
    rows: [row("stands out of the noise", result.significant)],
    figures: [{
      name: "lag",
      caption: "What the fringes leave over against the time constant tried",
      draw: () => {
        const { timeConstants, misfits } = result.diagnostics;
        const x = shownAxis("Time constant", timeConstants, "s");
        const y = shownAxis("Misfit, relative to no lag", misfits, "1");
        return stackPanels([{
          y,
          traces: [
            curve(timeConstants, misfits, x, y, {
              name: "Misfit",
              colour: colours.blue,
              width: 1.8,
            }),
          ],
        }], { title: "Thermal lag", x });
      },
    }],
    method:
      "The fringes of rising and falling strokes agree best at the true lag.",
  }),
  rows: ({ diagnostics }) =>
    diagnostics.timeConstants.map((timeConstant, k) => ({
      timeConstant,
      misfit: diagnostics.misfits[k]!,
    })),
});
