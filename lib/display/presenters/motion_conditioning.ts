import type { Conditioning } from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis, signalAxis } from "../axis.ts";
import {
  curve,
  legibleStretch,
  sampleLine,
  stackPanels,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { row } from "./rows.ts";

registerPresenter<Conditioning>("motion.conditioning", {
  report: (result) => ({
    title: "Signal made ready for the phase",
    headlines: [],
    rows: [
      row("middle of the fringes", result.middle, result.unit),
      row("half height of the fringes", result.amplitude, result.unit),
      row("noise, rms", result.noise, result.unit),
      row("signal-to-noise ratio", result.signalToNoiseRatio, "dB"),
      row("clipped samples left out", result.clippedSamples),
      row("missing samples", result.missingSamples),
      row("faded samples left out", result.fadedSamples),
    ],
    figures: [{
      name: "signal",
      caption: "The conditioned monitor signal with the levels of its fringes",
      draw: () => conditionedFigure(result),
    }],
    method:
      "Power modulation, hum and fading are taken off; samples that cannot be used are left out.",
  }),
});

function conditionedFigure(result: Conditioning) {
  const { signal, samplingRate, unit, middle, amplitude } = result;
  const duration = signal.length / samplingRate;
  const x = shownAxis("Time", [0, duration], "s");
  const y = signalAxis("Signal", signal, unit);
  const stretch = legibleStretch(signal);
  const ends = stretch.whole
    ? [0, duration]
    : [stretch.from / samplingRate, (stretch.to - 1) / samplingRate];
  const level = (value: number, legend: boolean) =>
    curve(ends, [value, value], x, y, {
      name: "Levels of the fringes",
      colour: colours.black,
      dash: "dash",
      legend,
    });
  return stackPanels([{
    y,
    traces: [
      sampleLine(
        signal,
        { start: 0, step: 1 / samplingRate },
        x,
        y,
        {
          name: "Conditioned signal",
          colour: colours.blue,
          width: 1.1,
        },
        5000,
        stretch,
      ),
      level(middle + amplitude, true),
      level(middle - amplitude, false),
    ],
  }], {
    title: "Conditioned signal",
    x,
    overview: { samples: signal, y, step: 1 / samplingRate, stretch },
  });
}
