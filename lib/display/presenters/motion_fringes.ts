import type { FringeCount } from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis, signalAxis } from "../axis.ts";
import {
  legibleStretch,
  marks,
  sampleLine,
  stackPanels,
  uprights,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<FringeCount>("motion.fringes", {
  report: (count) => ({
    title: "Fringes of a moving target",
    headlines: [
      headline("fringes, both ways together", count.fringeCount),
      headline("displacement", count.displacement),
    ],
    rows: [
      row("direction", count.direction),
      quantityRow(
        "net fringes",
        count.netFringeCount,
        "receding − approaching",
      ),
      quantityRow("way passed", count.path),
      row("turning points", count.turningPoints.length),
      row("jumps marked", count.times.length),
      quantityRow(
        "feedback parameter C",
        count.diagnostics.feedbackParameter,
      ),
      row("samples that do not fit", count.diagnostics.doubtfulSamples),
    ],
    figures: [{
      name: "trace",
      caption:
        "Monitor signal with its fringes marked by their way, and the turning points as dotted lines",
      draw: () => traceFigure(count),
    }],
    method:
      "Each fringe is half a wavelength of motion; the slant of the saw-tooth tells the way.",
  }),
  rows: ({ times, signs }) =>
    Array.from(times, (time, k) => ({ time, sign: signs[k]! })),
});

function traceFigure(
  { times, signs, turningPoints, diagnostics }: FringeCount,
) {
  const { signal, signalUnit, samplingRate, middle } = diagnostics;
  const duration = signal.length / samplingRate;
  const stretch = legibleStretch(signal);
  const inside = (time: number) =>
    time * samplingRate >= stretch.from && time * samplingRate < stretch.to;
  const x = shownAxis("Time", [0, duration], "s");
  const y = signalAxis("Monitor signal", signal, signalUnit);
  const way = (sign: number, name: string, colour: string, symbol: string) => {
    const chosen = times.filter((time, k) => signs[k] === sign && inside(time));
    return chosen.length === 0 ? [] : [
      marks(chosen, chosen.map(() => middle), x, y, {
        name,
        colour,
        symbol,
        size: 8,
      }),
    ];
  };
  return stackPanels([{
    y,
    traces: [
      sampleLine(
        signal,
        { start: 0, step: 1 / samplingRate },
        x,
        y,
        {
          name: "Monitor signal",
          colour: colours.blue,
          width: 1.1,
        },
        5000,
        stretch,
      ),
      ...way(1, "Receding", colours.vermilion, "triangle-up"),
      ...way(-1, "Approaching", colours.green, "triangle-down"),
    ],
  }], {
    title: "Fringes",
    x,
    axis: stretch.whole ? { range: [0, x.scale(duration)] } : {},
    overview: { samples: signal, y, step: 1 / samplingRate, stretch },
    layout: {
      showlegend: true,
      shapes: uprights(
        Array.from(turningPoints).filter(inside).slice(0, 200),
        x,
        colours.grey,
      ),
    },
  });
}
