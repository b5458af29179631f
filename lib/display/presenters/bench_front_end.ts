import type { FrontEndCheck, OutputNoise } from "../../bench/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import {
  budgetBars,
  curve,
  logarithmic,
  stackPanels,
  uprightLabel,
  uprights,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, percentRow, row } from "./rows.ts";

registerPresenter<FrontEndCheck>("bench.frontEnd", {
  report: (check) => ({
    title: "Amplifier behind the monitor photodiode",
    headlines: [
      headline("gain", check.transimpedance),
      headline("bandwidth", check.bandwidth),
    ],
    rows: [
      {
        ...row("phase margin", check.phaseMargin.value * 180 / Math.PI, "°"),
        standardUncertainty: check.phaseMargin.standardUncertainty * 180 /
          Math.PI,
      },
      row("peaking", check.peaking, "dB"),
      percentRow("overshoot of a step", check.overshoot),
      row("natural frequency", check.naturalFrequency, "Hz"),
      row("quality factor", check.qualityFactor),
      row(
        "feedback capacitance for the flattest gain",
        check.suggestedFeedbackCapacitance,
        "F",
        `now ${
          (1e12 * check.diagnostics.amplifier.feedbackCapacitance).toPrecision(
            3,
          )
        } pF`,
      ),
      row("least gain-bandwidth product", check.leastGainBandwidth, "Hz"),
      row("standing voltage", check.standingVoltage, "V"),
      row("headroom", check.headroom, "V"),
      row("greatest monitor current", check.greatestMonitorCurrent, "A"),
      check.couplingCorner === null
        ? row("coupling", "direct (DC)")
        : row("coupling corner", check.couplingCorner, "Hz"),
      row("amplitude of a fringe", check.fringeAmplitude, "V"),
      row("signal-to-noise ratio", check.signalToNoiseRatio, "dB"),
      row("noise, rms", check.noise.total, "V"),
      row("displacement noise, rms", check.displacementNoise, "m"),
      row(
        "displacement noise density",
        check.displacementNoiseDensity,
        "m/√Hz",
      ),
      row(
        "greatest fringe rate with clear edges",
        check.greatestFringeRate,
        "Hz",
      ),
    ],
    figures: [
      {
        name: "response",
        caption:
          "Gain and phase of the amplifier against frequency, with its bandwidth",
        draw: () => responseFigure(check),
      },
      {
        name: "noise",
        caption: "Noise at the output by source, largest on top",
        draw: () => noiseFigure(check.noise),
      },
    ],
    method:
      "Two-pole model of a transimpedance amplifier with its photodiode capacitance; noise over its whole bandwidth.",
  }),
  rows: ({ diagnostics }) => {
    const { frequencies, magnitude, phase } = diagnostics.response;
    return Array.from(frequencies, (frequency, k) => ({
      frequency,
      magnitude: magnitude[k]!,
      phase: phase[k]!,
    }));
  },
});

function responseFigure({ diagnostics, bandwidth }: FrontEndCheck) {
  const { frequencies, magnitude, phase } = diagnostics.response;
  const x = shownAxis("Frequency", frequencies, "Hz", "logarithmic");
  const decibels = Float64Array.from(magnitude, (g) => 20 * Math.log10(g));
  const degrees = unwrap(phase).map((angle) => angle * 180 / Math.PI);
  const gain = shownAxis("Relative gain", decibels, "dB");
  const turn = shownAxis("Phase", degrees, "°");
  return stackPanels([
    {
      y: turn,
      weight: 0.7,
      traces: [
        curve(frequencies, degrees, x, turn, {
          name: "Phase",
          colour: colours.vermilion,
          legend: false,
          width: 1.8,
        }),
      ],
    },
    {
      y: gain,
      traces: [
        curve(frequencies, decibels, x, gain, {
          name: "Gain",
          colour: colours.blue,
          legend: false,
          panel: 2,
          width: 1.8,
        }),
      ],
    },
  ], {
    title: "Response of the amplifier",
    x,
    axis: logarithmic(frequencies, x),
    layout: {
      shapes: uprights([bandwidth.value], x, colours.grey, "dash"),
      annotations: [
        uprightLabel(bandwidth.value, "bandwidth", "logarithmic"),
      ],
    },
  });
}

/** A phase without jumps of a whole turn. */
function unwrap(phase: Float64Array): Float64Array {
  let turns = 0;
  return phase.map((angle, k) => {
    const step = k === 0 ? 0 : angle - phase[k - 1]!;
    if (step > Math.PI) turns--;
    if (step < -Math.PI) turns++;
    return angle + 2 * Math.PI * turns;
  });
}

const sources: Readonly<Record<Exclude<keyof OutputNoise, "total">, string>> = {
  shot: "shot noise of the monitor current",
  resistor: "feedback resistor",
  amplifierVoltage: "amplifier, voltage noise",
  amplifierCurrent: "amplifier, current noise",
  converter: "steps of the converter",
};

function noiseFigure(noise: OutputNoise) {
  const entries = Object.entries(sources).map(([key, source]) => ({
    source,
    contribution: noise[key as keyof OutputNoise],
  }));
  const { data, layout } = budgetBars(
    entries,
    noise.total,
    "V",
    "Noise at the output",
  );
  const axis = layout.xaxis as { title: { text: string } };
  const title = axis.title.text.replace("Standard uncertainty", "Noise, rms");
  return {
    data,
    layout: { ...layout, xaxis: { ...axis, title: { text: title } } },
  };
}
