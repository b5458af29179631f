import type { Capture, Channel } from "../../capture/mod.ts";
import { registerPresenter, type ReportRow } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import { sampleLine, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { row } from "./rows.ts";

const palette = [colours.blue, colours.vermilion, colours.green, colours.grey];

registerPresenter<Capture>("capture.capture", {
  report: (capture) => ({
    title: `Capture ${capture.source.fileName ?? "made in memory"}`,
    headlines: [],
    rows: [
      row("format", capture.source.format),
      row("sampling rate", capture.samplingRate, "Hz"),
      row("samples in each channel", capture.sampleCount),
      row("duration", capture.sampleCount / capture.samplingRate, "s"),
      row("start", capture.startTime ?? "not stated"),
      ...capture.channels.map(channelRow),
      ...Object.entries(capture.metadata).map(([key, value]) =>
        row(`header: ${key}`, value)
      ),
    ],
    figures: [{
      name: "traces",
      caption: `Traces of ${
        capture.channels.map(({ name }) => `'${name}'`).join(", ")
      } against time`,
      draw: () => tracesFigure(capture),
    }],
    method: "As recorded, in SI units; nothing is filtered or left out.",
  }),
});

function channelRow({ name, role, unit, samples }: Channel): ReportRow {
  let low = Infinity;
  let high = -Infinity;
  for (const value of samples) {
    if (value < low) low = value;
    if (value > high) high = value;
  }
  return row(`${name}: peak to peak`, high - low, unit, role);
}

function tracesFigure({ channels, samplingRate, sampleCount }: Capture) {
  const time = shownAxis("Time", [sampleCount / samplingRate], "s");
  const panels = channels.slice(0, 4).map(({ name, unit, samples }, index) => {
    const axis = shownAxis(name, samples, unit);
    return {
      y: axis,
      traces: [
        sampleLine(samples, { start: 0, step: 1 / samplingRate }, time, axis, {
          name,
          colour: palette[index] ?? colours.grey,
          panel: Math.min(4, channels.length) - index,
          legend: false,
        }),
      ],
    };
  });
  return stackPanels(panels.reverse(), { title: "Capture", x: time });
}
