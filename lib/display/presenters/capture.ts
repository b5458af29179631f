import { extremesOf } from "../../order/mod.ts";
import { type Capture, type Channel, channelRoles } from "../../capture/mod.ts";
import { registerPresenter, type ReportRow } from "../../result/mod.ts";
import { shownAxis, signalAxis } from "../axis.ts";
import { legibleStretch, sampleLine, stackPanels } from "../figures/mod.ts";
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
      caption: `${
        stretchOf(capture).whole
          ? "All channels against time"
          : "A stretch of all channels, and the whole record under it"
      }: ${capture.channels.map(({ name }) => name).join(", ")}`,
      draw: () => channelsFigure(capture),
    }],
    method: "As recorded, in SI units; nothing is filtered or left out.",
  }),
});

function channelRow({ name, role, unit, samples }: Channel): ReportRow {
  const [low, high] = extremesOf(samples);
  return row(`${name}: peak to peak`, high - low, unit, role);
}

const titles: Readonly<Record<Channel["role"], string>> = {
  "monitor signal": "Monitor signal",
  "junction voltage": "Junction voltage",
  "drive current": "Drive current",
  "drive voltage": "Drive voltage",
  "other": "Channel",
};

/** The channel with the fringes, or the first. */
function mainChannel(capture: Capture): Channel {
  return [...capture.channels].sort((a, b) => rank(a.role) - rank(b.role))[0]!;
}

function stretchOf(capture: Capture) {
  return legibleStretch(mainChannel(capture).samples);
}

/** The capture as a figure: one panel a channel, the monitor signal on top. */
function channelsFigure(capture: Capture) {
  const { samplingRate, sampleCount } = capture;
  const x = shownAxis("Time", [sampleCount / samplingRate], "s");
  const order = [...capture.channels]
    .sort((a, b) => rank(a.role) - rank(b.role)).slice(0, 3).reverse();
  const main = mainChannel(capture);
  const stretch = stretchOf(capture);
  const axes = order.map(({ name, role, unit, samples }) =>
    signalAxis(
      role === "other" ? channelTitle(name) : titles[role],
      samples,
      unit,
    )
  );
  return stackPanels(
    order.map(({ name, role, samples }, k) => ({
      y: axes[k]!,
      weight: role === "monitor signal" ? 1 : 0.6,
      traces: [
        sampleLine(
          samples,
          { start: 0, step: 1 / samplingRate },
          x,
          axes[k]!,
          {
            name: plotText(name),
            colour: role === "monitor signal" ? colours.blue : colours.ochre,
            panel: k + 1,
            width: 1.1,
            legend: false,
          },
          role === "monitor signal" ? 6000 : 3000,
          stretch,
        ),
      ],
    })),
    {
      title: plotText(capture.source.fileName ?? "Capture"),
      x,
      overview: {
        samples: main.samples,
        y: axes[order.indexOf(main)]!,
        step: 1 / samplingRate,
        stretch,
      },
    },
  );
}

/** Which channel it is, where its role does not say. */
function channelTitle(name: string): string {
  const text = plotText(name);
  return /^channel\b/i.test(text)
    ? text.charAt(0).toUpperCase() + text.slice(1)
    : `Channel ${text}`;
}

function rank(role: Channel["role"]): number {
  return channelRoles.indexOf(role);
}
