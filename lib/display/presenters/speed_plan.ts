import { registerPresenter } from "../../result/mod.ts";
import type { SpeedPlan } from "../../speed/mod.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<SpeedPlan>("speed.plan", {
  report: (plan) => ({
    title: "Plan of a speed measurement",
    headlines: [headline("Doppler frequency", plan.dopplerFrequency)],
    rows: [
      quantityRow(
        "sampling rate",
        plan.samplingRate,
        "keeps the form of the fringes",
      ),
      quantityRow(
        "least sampling rate",
        plan.leastSamplingRate,
        "below it the line folds",
      ),
      quantityRow("bandwidth of the amplifier", plan.amplifierBandwidth),
      quantityRow("length of the record", plan.duration),
      row("samples", plan.sampleCount),
      row("width of the line", plan.diagnostics.lineWidth, "Hz"),
    ],
    figures: [],
    method: "One fringe for each half wavelength along the beam.",
  }),
});
