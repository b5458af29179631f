import type { Quantity } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import { colours } from "../theme.ts";
import { logarithmic, stackPanels } from "./panels.ts";
import { marks } from "./trace.ts";

/** How harmonics are drawn. */
export interface HarmonicsLook {
  /** Size of the marks, in px. */
  readonly size: number;
  /** Whether each harmonic has its tick: where there are few. */
  readonly tickEach?: boolean;
}

/**
 * Amplitudes of the harmonics of a motion with their standard uncertainties, on a
 * logarithmic axis.
 *
 * @param harmonics Order and amplitude, in m.
 * @param look How they are drawn.
 * @returns Data and layout for plotly.js.
 */
export function harmonicsFigure(
  harmonics: readonly {
    readonly order: number;
    readonly amplitude: Quantity;
  }[],
  { size, tickEach = false }: HarmonicsLook,
): ReturnType<typeof stackPanels> {
  const orders = harmonics.map(({ order }) => order);
  const values = harmonics.map(({ amplitude }) => amplitude.value);
  const x = shownAxis("Harmonic", orders, "1");
  const y = shownAxis("Amplitude", values, "m", "logarithmic");
  return stackPanels([{
    y,
    axis: logarithmic(values, y),
    traces: [
      marks(orders, values, x, y, {
        name: "Amplitude",
        colour: colours.blue,
        size,
      }, harmonics.map(({ amplitude }) => amplitude.standardUncertainty)),
    ],
  }], {
    title: "Harmonics",
    x,
    ...tickEach ? { axis: { dtick: 1 } } : {},
  });
}
