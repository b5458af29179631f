import type { RampTargets } from "../../range/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import { curve, logarithmic, stackPanels, uprights } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, percentRow, quantityRow, row } from "./rows.ts";

registerPresenter<RampTargets>("range.targets", {
  report: (found) => ({
    title: `Targets on the ramp: ${found.verdict}`,
    headlines: found.targets.map(({ distance, steps }, k) =>
      distance === null
        ? headline(`steps per ramp of target ${k + 1}`, steps)
        : headline(`distance of target ${k + 1}`, distance)
    ),
    rows: [
      row("finding", found.finding),
      ...found.targets.flatMap(({ steps, strength }, k) => [
        quantityRow(`steps per ramp of target ${k + 1}`, steps),
        percentRow(`strength of target ${k + 1}`, strength),
        percentRow(
          `its second harmonic`,
          found.diagnostics.harmonics[k] ?? NaN,
          "of its fringes: saw-teeth",
        ),
      ]),
      row("steps that part two targets", found.resolution),
      row("strokes used", found.diagnostics.strokes),
    ],
    figures: [{
      name: "spectrum",
      caption:
        "Height of the fringes against their rate, before and after the strongest target is taken off, with the limit of the noise",
      draw: () => spectrumFigure(found),
    }],
    method:
      "Spectrum of the signal against the current, then one fit of all rates with the bend of the tuning, harmonics, sums and differences.",
  }),
  rows: ({ targets }) =>
    targets.map(({ steps, strength, distance }) => ({
      steps: steps.value,
      stepsStandardUncertainty: steps.standardUncertainty,
      strength,
      distance: distance?.value ?? NaN,
    })),
});

function spectrumFigure({ diagnostics, targets }: RampTargets) {
  const { rates, heights, left, noiseLimit } = diagnostics;
  const x = shownAxis("Steps per ramp", rates, "1");
  const y = shownAxis("Height over the highest", [1e-4, 1], "1", "logarithmic");
  const [low] = extremes([left.filter((value) => value > 0)]);
  return stackPanels([{
    y,
    axis: {
      ...logarithmic([Math.max(1e-4, low), 1], y),
      range: [Math.log10(Math.max(1e-4, low)), 0.15],
    },
    traces: [
      curve(rates, heights, x, y, {
        name: "As recorded, without the power's course",
        colour: colours.blue,
      }),
      curve(rates, left, x, y, {
        name: "Without the strongest target",
        colour: colours.grey,
      }),
      curve([rates[0]!, rates.at(-1)!], [noiseLimit, noiseLimit], x, y, {
        name: "Limit of the noise",
        colour: colours.vermilion,
        dash: "dash",
      }),
    ],
  }], {
    title: "Fringes on the ramp by their rate",
    x,
    layout: {
      shapes: uprights(
        targets.map(({ steps }) => steps.value),
        x,
        colours.green,
      ),
    },
  });
}
