import type { CaptureCheck } from "../../capture/mod.ts";
import { registerPresenter, type ReportRow } from "../../result/mod.ts";
import { shownAxis, signalAxis } from "../axis.ts";
import {
  curve,
  legibleStretch,
  marks,
  sampleLine,
  stackPanels,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { percentRow, quantityRow, row } from "./rows.ts";

registerPresenter<CaptureCheck>("capture.check", {
  report: (check) => ({
    title: `Capture check: ${check.verdict}`,
    headlines: [],
    rows: [
      row("channel", check.channel),
      row("duration", check.duration, "s"),
      row("sampling rate", check.samplingRate, "Hz"),
      quantityRow("noise", check.noise, "white noise, standard deviation"),
      row("signal-to-noise ratio", check.signalToNoise.value, "dB"),
      quantityRow("fastest fringes", check.fringeRate),
      percentRow("part of the Nyquist rate", check.nyquistFraction),
      ...check.channels.flatMap(channelRows),
    ],
    figures: [{
      name: "signal",
      caption:
        `Monitor signal of '${check.channel}'; a rise through the band between the lines counts as a fringe`,
      draw: () => signalFigure(check),
    }],
    method:
      "Noise from fourth differences; fringe rate from rises through 30 % of the whole swing.",
  }),
  rows: (check) =>
    check.channels.map((channel) => ({
      channel: channel.name,
      role: channel.role,
      unit: channel.unit,
      low: channel.levels.low,
      high: channel.levels.high,
      clippedPercent: 100 * channel.clippedFraction,
      dropouts: channel.dropouts.length,
      noise: channel.noise,
      signalToNoise: channel.signalToNoise,
    })),
});

function channelRows(channel: CaptureCheck["channels"][number]): ReportRow[] {
  const { name, role, unit, levels, clippedFraction, dropouts, hum } = channel;
  return [
    row(`${name}: peak to peak`, levels.high - levels.low, unit, role),
    percentRow(`${name}: clipped`, clippedFraction),
    row(`${name}: dropouts`, dropouts.length),
    ...(hum === null || role !== "monitor signal"
      ? []
      : hum.standsOut
      ? [row(`${name}: hum at ${hum.frequency} Hz`, hum.amplitudes[0]!, unit)]
      : [row(`${name}: hum at 50 Hz or 60 Hz`, "does not stand out")]),
  ];
}

function signalFigure(check: CaptureCheck) {
  const { diagnostics, samplingRate, duration } = check;
  const { fringeSignal, thresholds } = diagnostics;
  const unit = check.channels.find(({ name }) => name === check.channel)?.unit;
  const time = shownAxis("Time", [duration], "s");
  const signal = signalAxis("Signal", fringeSignal, unit ?? "V");
  const stretch = legibleStretch(fringeSignal);
  const inside = (at: number) => at >= stretch.from && at < stretch.to;
  const clipped = (check.channels
    .find(({ name }) => name === check.channel)?.clippedRuns ?? [])
    .filter(({ start }) => inside(start));
  const ends = stretch.whole
    ? [0, duration]
    : [stretch.from / samplingRate, (stretch.to - 1) / samplingRate];
  const level = (value: number, legend: boolean) =>
    curve(ends, [value, value], time, signal, {
      name: "Band of the count",
      colour: colours.black,
      dash: "dash",
      width: 1.3,
      legend,
    });
  return stackPanels([{
    y: signal,
    traces: [
      sampleLine(
        fringeSignal,
        { start: 0, step: 1 / samplingRate },
        time,
        signal,
        { name: "Fringe signal", colour: colours.blue },
        3000,
        stretch,
      ),
      level(thresholds.high, true),
      level(thresholds.low, false),
      ...(clipped.length === 0 ? [] : [
        marks(
          clipped.map(({ start }) => start / samplingRate),
          clipped.map(({ start }) => fringeSignal[start] ?? NaN),
          time,
          signal,
          { name: "Clipped", colour: colours.vermilion, symbol: "x" },
        ),
      ]),
    ],
  }], {
    title: "Monitor signal",
    x: time,
    axis: stretch.whole ? { range: [0, time.scale(duration)] } : {},
    overview: {
      samples: fringeSignal,
      y: signal,
      step: 1 / samplingRate,
      stretch,
    },
    layout: { showlegend: true },
  });
}
