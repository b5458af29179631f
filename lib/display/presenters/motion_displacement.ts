import type { Displacement } from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis, signalAxis } from "../axis.ts";
import {
  legibleStretch,
  sampleLine,
  stackPanels,
  uprights,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import {
  type FringeSamples,
  phasePortrait,
  targetPhase,
} from "./phase_portrait.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<Displacement>("motion.displacement", {
  report: (motion) => ({
    title: "Displacement of the target",
    headlines: [
      headline("net displacement", motion.netDisplacement),
      headline("peak to peak", motion.peakToPeak),
    ],
    rows: [
      quantityRow("way passed", motion.path),
      row("standard uncertainty of a sample, rms", motion.rmsUncertainty, "m"),
      row("direction from", motion.directionSource),
      quantityRow("feedback parameter C", motion.feedbackParameter),
      quantityRow(
        "linewidth enhancement factor α",
        motion.linewidthEnhancementFactor,
      ),
      row("regime", motion.regime),
      row("turning points", motion.turningPoints.length),
      row("stretches without a gap", motion.stretches.length),
      row("samples that do not fit", motion.diagnostics.doubtfulSamples),
      row("wavelength", motion.diagnostics.wavelength, "m"),
      row("follows motion up to", motion.diagnostics.bandwidth, "Hz"),
    ],
    figures: [
      {
        name: "displacement",
        caption:
          "Monitor signal and, under it, the displacement; dotted lines at its turning points",
        draw: () => displacementFigure(motion),
      },
      ...(motion.diagnostics.trace === null ? [] : [{
        name: "phase portrait",
        caption:
          "Signal against the phase of the target, receding and approaching, with the fitted model: its slant shows the feedback strength",
        draw: () => phasePortrait(fringeSamples(motion), motion),
      }]),
    ],
    method:
      "A spline of the phase is fitted to every sample of the signal, together with C, α and the levels of the fringe.",
  }),
  rows: ({ displacement, standardUncertainty, samplingRate }) =>
    Array.from(displacement, (value, k) => ({
      time: k / samplingRate,
      displacement: value,
      standardUncertainty: standardUncertainty[k]!,
    })),
});

function displacementFigure(motion: Displacement) {
  const { displacement, samplingRate, turningPoints, diagnostics } = motion;
  const duration = displacement.length / samplingRate;
  const stretch = legibleStretch(diagnostics.signal);
  const x = shownAxis("Time", [0, duration], "s");
  const y = signalAxis("Signal", diagnostics.signal, diagnostics.signalUnit);
  const d = shownAxis("Displacement", displacement, "m");
  const time = { start: 0, step: 1 / samplingRate };
  return stackPanels([
    {
      y: d,
      traces: [
        sampleLine(
          displacement,
          time,
          x,
          d,
          {
            name: "Displacement",
            colour: colours.vermilion,
            width: 1.8,
          },
          2500,
          stretch,
        ),
      ],
    },
    {
      y,
      traces: [
        sampleLine(
          diagnostics.signal,
          time,
          x,
          y,
          {
            name: "Monitor signal",
            colour: colours.blue,
            panel: 2,
            width: 1.1,
          },
          4000,
          stretch,
        ),
      ],
    },
  ], {
    title: "Displacement and signal",
    x,
    axis: stretch.whole ? { range: [0, x.scale(duration)] } : {},
    // The signal is the same all along: the motion tells the record.
    overview: { samples: displacement, y: d, step: 1 / samplingRate, stretch },
    layout: {
      shapes: uprights(
        Array.from(turningPoints).filter((at) =>
          at * samplingRate >= stretch.from && at * samplingRate < stretch.to
        ).slice(0, 200),
        x,
        colours.grey,
      ),
    },
  });
}

/** About a thousand samples spread over the record. */
function fringeSamples(motion: Displacement): FringeSamples {
  const { displacement, diagnostics } = motion;
  const { metresPerRadian, signal, middle, amplitude, trace } = diagnostics;
  const phaseOf = (k: number) => displacement[k]! / metresPerRadian;
  // The displacement starts at 0; the phase does not.
  const first = Math.max(
    0,
    displacement.findIndex((value, k) =>
      Number.isFinite(value) && Number.isFinite(trace?.feedbackPhase[k])
    ),
  );
  const start = targetPhase(trace?.feedbackPhase[first] ?? 0, motion) -
    phaseOf(first);
  const stride = Math.max(1, Math.ceil(displacement.length / 1000));
  const chosen = Array.from(
    { length: Math.floor((displacement.length - 1) / stride) },
    (_, k) => (k + 1) * stride,
  );
  return {
    phase: chosen.map((k) => phaseOf(k) + start),
    level: chosen.map((k) => (signal[k]! - middle) / amplitude),
    way: chosen.map((k) => displacement[k]! - displacement[k - stride]!),
  };
}
