import type {
  DisplacementSpectrum,
  MotionResponse as Response,
} from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import {
  band,
  curve,
  logarithmic,
  stackPanels,
  uprightLabel,
  uprights,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, row } from "./rows.ts";

registerPresenter<DisplacementSpectrum>("motion.spectrum", {
  report: (spectrum) => ({
    title: "Spectrum of the displacement",
    headlines: [headline("displacement, rms", spectrum.rms)],
    rows: [
      row("noise of the fringes", spectrum.noiseDensity, "m/√Hz"),
      row("noise bandwidth of a bin", spectrum.noiseBandwidth, "Hz"),
      row("follows motion up to", spectrum.bandwidth, "Hz"),
      row("segments averaged", spectrum.diagnostics.segments),
    ],
    figures: [{
      name: "spectrum",
      caption:
        "Amplitude density of the displacement against frequency, with the noise that the fringes leave",
      draw: () => densityFigure(spectrum),
    }],
    method: "Averaged spectra of overlapping segments of the displacement.",
  }),
  rows: ({ frequency, density }) =>
    Array.from(frequency, (f, k) => ({ frequency: f, density: density[k]! })),
});

function densityFigure(spectrum: DisplacementSpectrum) {
  // Zero frequency has no place on a logarithmic axis.
  const frequency = spectrum.frequency.subarray(1);
  const density = spectrum.density.subarray(1);
  const x = shownAxis("Frequency", frequency, "Hz", "logarithmic");
  const y = shownAxis("Amplitude density", density, "m/√Hz", "logarithmic");
  const ends = [frequency[0] ?? 1, frequency.at(-1) ?? 1];
  return stackPanels([{
    y,
    // What lies far under the noise of the fringes is the fit's own smoothness.
    axis: {
      ...logarithmic(density, y),
      ...(spectrum.noiseDensity > 0
        ? {
          range: [
            Math.log10(spectrum.noiseDensity) - 1,
            Math.log10(Math.max(...density, spectrum.noiseDensity)) + 0.3,
          ],
        }
        : {}),
    },
    traces: [
      curve(frequency, density, x, y, {
        name: "Displacement",
        colour: colours.blue,
        width: 1.2,
      }),
      curve(ends, [spectrum.noiseDensity, spectrum.noiseDensity], x, y, {
        name: "Noise of the fringes",
        colour: colours.vermilion,
        dash: "dash",
        width: 1.6,
      }),
    ],
  }], {
    title: "Spectrum of the displacement",
    x,
    axis: {
      ...logarithmic(frequency, x),
      range: [ends[0]!, Math.min(ends[1]!, 4 * spectrum.bandwidth)]
        .map((value) => Math.log10(x.scale(value) ?? 1)),
    },
    layout: {
      shapes: uprights([spectrum.bandwidth], x, colours.grey, "dash"),
      annotations: [
        uprightLabel(spectrum.bandwidth, "follows up to here", "logarithmic"),
      ],
    },
  });
}

registerPresenter<Response>("motion.response", {
  report: (response) => ({
    title: "Displacement against the drive",
    headlines: [
      headline("largest gain", response.peakGain),
      headline("at", response.peakFrequency),
    ],
    rows: [
      row("frequencies", response.frequency.length),
      row("distance of the bins", response.diagnostics.binWidth, "Hz"),
      row("segments averaged", response.diagnostics.segments),
    ],
    figures: [{
      name: "response",
      caption:
        "Gain and phase of the displacement against the drive over frequency with their expanded uncertainties, and the coherence",
      draw: () => responseFigure(response),
    }],
    method:
      "Cross spectrum of displacement and drive over the spectrum of the drive.",
  }),
  rows: (response) =>
    Array.from(response.frequency, (frequency, k) => ({
      frequency,
      gain: response.gain[k]!,
      gainUncertainty: response.gainUncertainty[k]!,
      phase: response.phase[k]!,
      phaseUncertainty: response.phaseUncertainty[k]!,
      coherence: response.coherence[k]!,
    })),
});

function responseFigure(response: Response) {
  const { frequency, gain, coherence } = response;
  const degrees = response.phase.map((angle) => angle * 180 / Math.PI);
  const x = shownAxis("Frequency", frequency, "Hz", "logarithmic");
  const g = shownAxis("Gain", gain, `m/${response.driveUnit}`, "logarithmic");
  const p = shownAxis("Phase", degrees, "°");
  const c = shownAxis("Coherence", [0, 1], "1");
  const line = (
    values: Float64Array,
    axis: typeof g,
    name: string,
    colour: string,
    panel: number,
  ) =>
    curve(frequency, values, x, axis, {
      name,
      colour,
      panel,
      legend: false,
      width: 1.6,
    });
  /** Where the value lies with about 95 %: ± 2 u. */
  const around = (
    values: Float64Array,
    spread: Float64Array,
    axis: typeof g,
    name: string,
    colour: string,
    panel: number,
  ) =>
    band(
      frequency,
      // A logarithmic axis has no place for zero.
      values.map((value, k) =>
        axis === g
          ? Math.max(value / 10, value - 2 * spread[k]!)
          : value - 2 * spread[k]!
      ),
      values.map((value, k) => value + 2 * spread[k]!),
      x,
      axis,
      { name: `${name} ± U, k = 2`, colour, panel },
    );
  return stackPanels([
    {
      y: c,
      weight: 0.45,
      traces: [line(coherence, c, "Coherence", colours.green, 1)],
      axis: { range: [0, 1.05] },
    },
    {
      y: p,
      weight: 0.7,
      traces: [
        around(
          degrees,
          response.phaseUncertainty.map((angle) => angle * 180 / Math.PI),
          p,
          "Phase",
          colours.vermilion,
          2,
        ),
        line(degrees, p, "Phase", colours.vermilion, 2),
      ],
    },
    {
      y: g,
      traces: [
        around(gain, response.gainUncertainty, g, "Gain", colours.blue, 3),
        line(gain, g, "Gain", colours.blue, 3),
      ],
      axis: logarithmic(gain, g),
    },
  ], {
    title: "Response to the drive",
    x,
    axis: logarithmic(frequency, x),
    layout: {
      shapes: uprights(
        [response.peakFrequency.value],
        x,
        colours.grey,
        "dash",
      ),
    },
  });
}
