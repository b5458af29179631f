import type { FringeCount } from "../../motion/mod.ts";
import { type Quantity, registerPresenter } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import {
  marks,
  sampleLine,
  stackPanels,
  uprights,
  windowSlider,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, quantityRow, row } from "./rows.ts";

/** What the figure needs of the diagnostics, where it is there. */
interface FringeTrace {
  /** The signal that was counted on, in its unit. */
  readonly signal?: Float64Array;
  /** Its SI unit. */
  readonly signalUnit?: string;
  /** Samples per second, in Hz. */
  readonly samplingRate?: number;
  /** Middle level of the fringes, in the unit of the signal. */
  readonly middle: number;
  /** Feedback parameter C (1). */
  readonly feedbackParameter?: Quantity;
}

registerPresenter<FringeCount>("motion.fringes", {
  report: (count) => {
    const trace = count.diagnostics as unknown as FringeTrace;
    return {
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
        ...(trace.feedbackParameter === undefined ? [] : [
          quantityRow("feedback parameter C", trace.feedbackParameter),
        ]),
      ],
      figures: trace.signal === undefined ? [] : [{
        name: "trace",
        caption:
          "Monitor signal with its fringes marked by their way, and the turning points",
        draw: () => traceFigure(count, trace),
      }],
      method:
        "Each fringe is half a wavelength of motion; the slant of the saw-tooth tells the way.",
    };
  },
  rows: ({ times, signs }) =>
    Array.from(times, (time, k) => ({ time, sign: signs[k]! })),
});

function traceFigure(count: FringeCount, trace: FringeTrace) {
  const { signal = new Float64Array(1), samplingRate = 1, signalUnit = "V" } =
    trace;
  const duration = signal.length / samplingRate;
  const x = shownAxis("Time", [0, duration], "s");
  const y = shownAxis("Monitor signal", signal, signalUnit);
  const way = (sign: number, name: string, colour: string, symbol: string) => {
    const times = count.times.filter((_, k) => count.signs[k] === sign);
    return times.length === 0 ? [] : [
      marks(times, times.map(() => trace.middle), x, y, {
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
      sampleLine(signal, { start: 0, step: 1 / samplingRate }, x, y, {
        name: "Monitor signal",
        colour: colours.blue,
        width: 1.1,
      }, 5000),
      ...way(1, "Receding", colours.vermilion, "triangle-up"),
      ...way(-1, "Approaching", colours.green, "triangle-down"),
    ],
  }], {
    title: "Fringes",
    x,
    layout: {
      showlegend: true,
      shapes: uprights(
        Array.from(count.turningPoints).slice(0, 200),
        x,
        colours.grey,
      ),
      ...(count.times.length < 30
        ? {}
        : { sliders: [windowSlider("Time window", x, 0, duration, 10)] }),
    },
  });
}
