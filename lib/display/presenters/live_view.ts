import type { LiveView } from "../../live/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { rowWords, safetyWords } from "../live/frame_words.ts";
import { percentRow, row } from "./rows.ts";

registerPresenter<LiveView>("live.view", {
  report: (view) => {
    const { reading, taken, recording, capture, diagnostics } = view;
    const shown = taken ?? capture;
    return {
      title: `Live view: ${view.state ?? "no samples"}`,
      headlines: [],
      rows: [
        row("source", view.source),
        row("ended", view.ended),
        row("samples", view.duration, "s"),
        row("samples lost", view.lost),
        ...(reading === null ? [] : [
          row("level", reading.level, reading.unit),
          row("fringes, top to bottom", reading.fringes, reading.unit),
          row("best so far", view.best, reading.unit),
          percentRow("contrast", reading.contrast),
          row("noise", reading.noise, reading.unit),
          row("signal-to-noise ratio", reading.signalToNoise, "dB"),
          row("fastest fringes", reading.fringeRate, "Hz"),
          percentRow("clipped", reading.clippedFraction),
        ]),
        ...view.rows.map(rowWords).map(({ label, text }) => row(label, text)),
        row("what to turn next", view.hint),
        ...(taken === null ? [] : [
          row("capture taken", taken.sampleCount / taken.samplingRate, "s"),
        ]),
        ...(recording === null ? [] : [
          row("recording", recording.path),
          row("samples recorded", recording.samples),
          row("blocks dropped", recording.droppedBlocks),
        ]),
        row("safety", safetyWords(diagnostics.frame)),
      ],
      figures: shown === null ? [] : [{
        name: "capture",
        caption: taken === null
          ? "The last samples that were kept"
          : "The capture that was taken",
        draw: () => {
          const { data, layout } = shown.figure("traces") as {
            data: Record<string, unknown>[];
            layout: Record<string, unknown>;
          };
          return { data, layout };
        },
      }],
      method:
        "Noise, clipping and fringe rate as in a capture check, over the last stretch; the height of the fringes is that of a sine of the same rms.",
    };
  },
});
