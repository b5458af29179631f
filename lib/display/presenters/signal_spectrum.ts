import { registerPresenter } from "../../result/mod.ts";
import type { Spectrogram, Spectrum } from "../../signal/mod.ts";
import { shownAxis } from "../axis.ts";
import { curve, heatMap, heatMapAxis, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { row } from "./rows.ts";

registerPresenter<Spectrum>("signal.spectrum", {
  report: (spectrum) => ({
    title: "Power spectral density",
    headlines: [],
    rows: [
      row("strongest bin", strongest(spectrum), "Hz"),
      row("distance of the bins", spectrum.binWidth, "Hz"),
      row("noise bandwidth of a bin", spectrum.noiseBandwidth, "Hz"),
      row("sampling rate", spectrum.samplingRate, "Hz"),
      row("samples per segment", spectrum.segmentLength),
      row("segments", spectrum.segmentCount),
      row("independent averages", spectrum.effectiveAverages),
      row("window", spectrum.window),
    ],
    figures: [{
      name: "spectrum",
      caption: "Power spectral density against frequency",
      draw: () => spectrumFigure(spectrum),
    }],
    method:
      "Averaged spectra of overlapping windowed segments, scaled to a one-sided density.",
  }),
  rows: ({ frequency, density }) =>
    Array.from(frequency, (f, k) => ({ frequency: f, density: density[k]! })),
});

registerPresenter<Spectrogram>("signal.spectrogram", {
  report: (spectrogram) => ({
    title: "Spectrogram",
    headlines: [],
    rows: [
      row("segments", spectrogram.time.length),
      row("samples per segment", spectrogram.segmentLength),
      row("distance of the bins", spectrogram.binWidth, "Hz"),
      row("sampling rate", spectrogram.samplingRate, "Hz"),
      row("window", spectrogram.window),
    ],
    figures: [{
      name: "spectrogram",
      caption: "Power spectral density against time and frequency",
      draw: () => spectrogramFigure(spectrogram),
    }],
    method: "Spectra of overlapping windowed segments, one after the other.",
  }),
});

/** Frequency of the strongest bin other than zero, in Hz. */
function strongest({ frequency, density }: Spectrum): number {
  let best = 1;
  for (let k = 1; k < density.length; k++) {
    if (density[k]! > density[best]!) best = k;
  }
  return frequency[best] ?? NaN;
}

function spectrumFigure({ frequency, density }: Spectrum) {
  const x = shownAxis("Frequency", frequency, "Hz");
  const decibels = Float64Array.from(density, (s) => 10 * Math.log10(s));
  const y = shownAxis("Power density, re 1 unit²/Hz", decibels, "dB");
  return stackPanels([{
    y,
    traces: [
      curve(frequency, decibels, x, y, {
        name: "Power density",
        colour: colours.blue,
        width: 1.2,
      }),
    ],
  }], { title: "Spectrum", x });
}

function spectrogramFigure({ time, frequency, density }: Spectrogram) {
  const x = shownAxis("Time", time, "s");
  const y = shownAxis("Frequency", frequency, "Hz");
  return stackPanels([{
    y,
    axis: heatMapAxis(frequency, y),
    traces: [
      heatMap({ columns: time, rows: frequency, values: density }, x, y, {
        name: "dB below the highest",
      }),
    ],
  }], { title: "Spectrogram", x, axis: { showgrid: false } });
}
