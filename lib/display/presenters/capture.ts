import type { Capture, Channel } from "../../capture/mod.ts";
import { registerPresenter, type ReportRow } from "../../result/mod.ts";
import { shownAxis, signalAxis } from "../axis.ts";
import { sampleLine, stackPanels, windowSlider } from "../figures/mod.ts";
import { plotText } from "../plot_text.ts";
import { colours } from "../theme.ts";
import { row } from "./rows.ts";

registerPresenter<Capture>("capture.capture", {
  report: (capture) => ({
    title: capture.source.fileName === null
      ? "Capture made in memory"
      : `Capture ${capture.source.fileName}`,
    headlines: [],
    rows: [
      row("duration", capture.sampleCount / capture.samplingRate, "s"),
      row("samples per channel", capture.sampleCount),
      row("sampling rate", capture.samplingRate, "Hz"),
      row("start", capture.startTime ?? "not stated"),
      row("format", capture.source.format),
      ...capture.channels.map(channelRow),
      ...Object.entries(capture.metadata).slice(0, 20).map(([key, value]) =>
        row(`header: ${key.slice(0, 80)}`, value.slice(0, 200))
      ),
    ],
    figures: [{
      name: "traces",
      caption: `All channels against time: ${
        capture.channels.map(({ name }) => name).join(", ")
      }`,
      draw: () => channelsFigure(capture),
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

const titles: Readonly<Record<Channel["role"], string>> = {
  "monitor signal": "Monitor signal",
  "drive current": "Drive current",
  "drive voltage": "Drive voltage",
  "other": "Channel",
};

/** The capture as a figure: one panel a channel, the monitor signal on top. */
function channelsFigure(capture: Capture) {
  const { samplingRate, sampleCount } = capture;
  const duration = sampleCount / samplingRate;
  const x = shownAxis("Time", [duration], "s");
  const order = [...capture.channels]
    .sort((a, b) => rank(a.role) - rank(b.role)).slice(0, 3).reverse();
  const windows = sampleCount > 2000 ? 10 : 0;
  return stackPanels(
    order.map(({ name, role, unit, samples }, k) => {
      const y = signalAxis(titles[role], samples, unit);
      return {
        y,
        weight: role === "monitor signal" ? 1 : 0.6,
        traces: [
          sampleLine(samples, { start: 0, step: 1 / samplingRate }, x, y, {
            name: plotText(name),
            colour: role === "monitor signal" ? colours.blue : colours.ochre,
            panel: k + 1,
            width: 1.1,
            legend: false,
          }, role === "monitor signal" ? 6000 : 1500),
        ],
      };
    }),
    {
      title: "Capture",
      x,
      layout: {
        ...(windows === 0 ? {} : {
          sliders: [windowSlider("Time window", x, 0, duration, windows)],
        }),
      },
    },
  );
}

function rank(role: Channel["role"]): number {
  return ["monitor signal", "drive current", "drive voltage", "other"]
    .indexOf(role);
}
