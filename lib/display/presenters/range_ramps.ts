import type { Ramps } from "../../range/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import { curve, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, row } from "./rows.ts";

registerPresenter<Ramps>("range.ramps", {
  report: (ramps) => ({
    title: "Ramps of the drive",
    headlines: [
      headline("ramps per second", ramps.frequency),
      headline("lowest current", ramps.lowCurrent),
      headline("highest current", ramps.highCurrent),
    ],
    rows: [
      row("shape", ramps.shape),
      row("duration of a stroke", ramps.strokeDuration, "s"),
      row("strokes in use", ramps.diagnostics.strokes.length),
      row("strokes left out", ramps.diagnostics.leftOut),
    ],
    figures: [{
      name: "strokes",
      caption: "Drive current along the strokes that are used",
      draw: () => rampsFigure(ramps),
    }],
    method:
      "Turning points of the drive channel; the current along each stroke is smoothed.",
  }),
  rows: ({ diagnostics }) =>
    diagnostics.strokes.map(({ index, direction, start, end }) => ({
      index,
      direction,
      start,
      end,
    })),
});

function rampsFigure({ diagnostics }: Ramps) {
  const strokes = diagnostics.strokes.slice(0, 40);
  const last = strokes.at(-1)?.end ?? 1;
  const x = shownAxis("Sample", [last], "1");
  const y = shownAxis(
    "Drive current",
    strokes.flatMap(({ current }) => [current[0]!, current.at(-1)!]),
    "A",
  );
  return stackPanels([{
    y,
    traces: (["up", "down"] as const).flatMap((direction) => {
      const chosen = strokes.filter((stroke) => stroke.direction === direction);
      if (chosen.length === 0) return [];
      // A gap between the strokes, so that they stand apart.
      const xs = chosen.flatMap(({ start, end }) => [start, end - 1, NaN]);
      const ys = chosen.flatMap((
        { current },
      ) => [current[0]!, current.at(-1)!, NaN]);
      return [curve(xs, ys, x, y, {
        name: direction === "up" ? "Rising" : "Falling",
        colour: direction === "up" ? colours.blue : colours.vermilion,
        width: 2,
      })];
    }),
  }], { title: "Strokes of the ramp", x });
}
