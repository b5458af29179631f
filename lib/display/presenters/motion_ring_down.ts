import type { RingDown } from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import { curve, marks, stackPanels, withinScatter } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<RingDown>("motion.ringDown", {
  report: (result) => ({
    title: "Ring-down",
    headlines: [
      headline("natural frequency", result.naturalFrequency),
      headline("quality factor", result.qualityFactor),
    ],
    rows: [
      quantityRow("damping ratio ζ", result.dampingRatio),
      quantityRow("settling time", result.settlingTime),
      quantityRow("end value", result.endValue),
      row("fit starts at", result.startTime, "s"),
      ...(result.modes.length < 2 ? [] : result.modes.flatMap((mode, k) => [
        quantityRow(`mode ${k + 1}: natural frequency`, mode.naturalFrequency),
        quantityRow(`mode ${k + 1}: damping ratio`, mode.dampingRatio),
        quantityRow(`mode ${k + 1}: amplitude`, mode.amplitude),
      ])),
      ...(result.decays.length < 2 ? [] : [
        row("decays averaged", result.decays.length),
        ...result.decays.slice(0, 12).flatMap((decay, k) => [
          quantityRow(
            `decay ${k + 1}: natural frequency`,
            decay.naturalFrequency,
          ),
          quantityRow(`decay ${k + 1}: damping ratio`, decay.dampingRatio),
        ]),
      ]),
      row("noise left over that of the signal", result.diagnostics.excess),
    ],
    figures: [{
      name: "decay",
      caption:
        "Displacement after the release with the fitted decay and its envelope, and the residuals below; samples beyond eight deviations are left out",
      draw: () => decayFigure(result),
    }],
    method:
      "Damped oscillations x∞ + Σ e^(−ζω₀t) (a cos ω_d t + b sin ω_d t), fitted to the fringes themselves.",
  }),
  rows: ({ modes }) =>
    modes.map((mode, k) => ({
      mode: k + 1,
      naturalFrequency: mode.naturalFrequency.value,
      dampingRatio: mode.dampingRatio.value,
      qualityFactor: mode.qualityFactor.value,
      amplitude: mode.amplitude.value,
      settlingTime: mode.settlingTime.value,
    })),
});

/** Decaying amplitude and value of one mode at a time after the start, in s. */
function modeAt(parameters: readonly number[], mode: number, time: number) {
  const [f = 0, zeta = 0, a = 0, b = 0] = parameters.slice(1 + 4 * mode);
  const omega = 2 * Math.PI * f;
  const damped = omega * Math.sqrt(Math.max(0, 1 - zeta * zeta)) * time;
  const decay = Math.exp(-zeta * omega * time);
  return {
    envelope: decay * Math.hypot(a, b),
    value: decay * (a * Math.cos(damped) + b * Math.sin(damped)),
  };
}

function decayFigure({ startTime, diagnostics }: RingDown) {
  const { residualTimes, parameters } = diagnostics;
  const residuals = withinScatter(diagnostics.residuals);
  const modes = Array.from(
    { length: (parameters.length - 1) / 4 },
    (_, k) => k,
  );
  const end = parameters[0] ?? 0;
  const sum = (time: number, part: "value" | "envelope") =>
    modes.reduce(
      (total, mode) => total + modeAt(parameters, mode, time - startTime)[part],
      0,
    );
  const last = Math.max(startTime, residualTimes.at(-1) ?? startTime);
  const grid = Array.from(
    { length: 3000 },
    (_, k) => startTime + (last - startTime) * k / 2999,
  );
  const model = grid.map((time) => end + sum(time, "value"));
  const measured = residuals.map((rest, k) =>
    rest + end + sum(residualTimes[k]!, "value")
  );
  const x = shownAxis("Time", [0, last], "s");
  const y = shownAxis("Displacement", extremes([model, measured]), "m");
  const rest = shownAxis("Residual", residuals, "m");
  const envelope = (sign: 1 | -1) =>
    curve(
      grid,
      grid.map((time) => end + sign * sum(time, "envelope")),
      x,
      y,
      {
        name: "Envelope",
        colour: colours.grey,
        panel: 2,
        dash: "dash",
        legend: sign === 1,
      },
      300,
    );
  return stackPanels([
    {
      y: rest,
      weight: 0.45,
      traces: [
        marks(residualTimes, residuals, x, rest, {
          name: "Residual",
          colour: colours.blue,
          legend: false,
          size: 3,
        }),
      ],
      axis: { zeroline: true, zerolinecolor: colours.vermilion },
    },
    {
      y,
      traces: [
        curve(residualTimes, measured, x, y, {
          name: "Displacement",
          colour: colours.blue,
          panel: 2,
          width: 4,
        }, 2500),
        curve(grid, model, x, y, {
          name: "Fit",
          colour: colours.vermilion,
          panel: 2,
          width: 1,
        }, 2500),
        envelope(1),
        envelope(-1),
      ],
    },
  ], {
    title: "Ring-down",
    x,
    axis: { range: [x.scale(startTime), x.scale(last)] },
  });
}
