import type { LiveSeries } from "../../live/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { row } from "./rows.ts";

registerPresenter<LiveSeries>("live.series", {
  report: ({ readings, list, next }) => ({
    title: `Series: ${readings.length} captures kept`,
    headlines: [],
    rows: [
      ...readings.map((reading) =>
        row(
          reading.file,
          reading.distance,
          "m",
          `${reading.strokes} strokes, SNR ${
            reading.signalToNoise.toFixed(0)
          } dB${reading.attempts === 1 ? "" : `, attempt ${reading.attempts}`}`,
        )
      ),
      row("list", list),
      row("next", next),
    ],
    figures: [],
    method:
      "Each capture was taken live once the fringes were good, checked, and kept in the folder beside the list.",
  }),
  rows: ({ readings }) => readings.map((reading) => ({ ...reading })),
});
