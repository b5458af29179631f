import { registerPresenter } from "../../result/mod.ts";
import type { SpeedMeasurement } from "../../speed/mod.ts";
import { shownAxis } from "../axis.ts";
import { budgetFigure, curve, marks, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<SpeedMeasurement>("speed.doppler", {
  report: (result) => ({
    title: "Speed from the Doppler frequency",
    headlines: [headline(speedLabel(result), result.speed)],
    rows: [
      quantityRow("Doppler frequency", result.dopplerFrequency),
      row("direction along the beam", result.direction),
      row("form of the line", result.lineForm),
      quantityRow("width of the line", result.lineWidth),
      row("signal-to-noise ratio", result.signalToNoise, "dB"),
      ...result.diagnostics.lines.slice(0, 8).map((line) =>
        row(
          `line at ${(line.frequency / 1000).toPrecision(5)} kHz`,
          line.prominence,
          "dB",
          line.order === null ? line.role : `${line.role}, order ${line.order}`,
        )
      ),
    ],
    figures: [
      {
        name: "spectrum",
        caption:
          "Spectrum of the monitor signal with the Doppler line, its fit and the other lines",
        draw: () => dopplerFigure(result),
      },
      {
        name: "budget",
        caption:
          "Where the uncertainty of the speed comes from, largest part on top",
        draw: () =>
          budgetFigure(
            result.budget.lines,
            result.speed.standardUncertainty,
            "m/s",
            "Uncertainty budget of the speed",
          ),
      },
    ],
    method:
      "The line of the averaged spectrum gives the Doppler frequency; wavelength, angle and air turn it into a speed.",
  }),
  rows: ({ budget }) => budget.lines.map((entry) => ({ ...entry })),
});

/** Without a stated angle it is the speed along the beam alone. */
function speedLabel({ provenance }: SpeedMeasurement): string {
  const angle = provenance.inputs.find(({ name }) => name === "angle");
  return angle?.origin === "default" ? "speed along the beam" : "speed";
}

/** Densities in decibels; `NaN` where there is no power. */
export const decibels = (density: ArrayLike<number>) =>
  Float64Array.from(
    density,
    (value) => value > 0 ? 10 * Math.log10(value) : NaN,
  );

/** Spectrum of a speed measurement with its line. */
export function dopplerFigure(result: SpeedMeasurement) {
  const { diagnostics } = result;
  const { frequency, density, backgroundDensity } = diagnostics;
  const levels = decibels(density);
  const x = shownAxis("Frequency", frequency, "Hz");
  const y = shownAxis(
    `Power density, re 1 ${diagnostics.signalUnit}²/Hz`,
    levels,
    "dB",
  );
  const at = (f: number) => {
    const step = (frequency[1] ?? 1) - (frequency[0] ?? 0);
    const bin = Math.round((f - (frequency[0] ?? 0)) / step);
    return levels[Math.min(levels.length - 1, Math.max(0, bin))] ?? NaN;
  };
  const mark = (
    name: string,
    colour: string,
    symbol: string,
    chosen: readonly number[],
  ) =>
    chosen.length === 0 ? [] : [
      marks(chosen, chosen.map((f) => at(f) + 4), x, y, {
        name,
        colour,
        symbol,
        size: 9,
      }),
    ];
  const others = diagnostics.lines.map((line) => line.frequency)
    .filter((f) =>
      Math.abs(f - result.dopplerFrequency.value) >
        2 * (frequency[1] ?? 1) + result.lineWidth.value
    );
  return stackPanels([{
    y,
    traces: [
      curve(frequency, levels, x, y, {
        name: "Monitor signal",
        colour: colours.blue,
        width: 1.2,
      }),
      ...(backgroundDensity === null ? [] : [
        curve(frequency, decibels(backgroundDensity), x, y, {
          name: "Without target",
          colour: colours.grey,
          width: 1,
        }),
      ]),
      ...(diagnostics.fitFrequency.length === 0 ? [] : [
        curve(
          diagnostics.fitFrequency,
          decibels(diagnostics.fitted),
          x,
          y,
          { name: "Fitted line", colour: colours.vermilion, width: 2 },
        ),
      ]),
      ...mark("Doppler frequency", colours.vermilion, "triangle-down", [
        result.dopplerFrequency.value,
      ]),
      ...mark("Other lines", colours.grey, "triangle-down-open", others),
    ],
  }], {
    title: "Doppler spectrum",
    x,
    axis: { range: [0, x.scale(frequency.at(-1) ?? 0)] },
  });
}
