import type { ElectricalCautions } from "../../bench/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { percentRow, row } from "./rows.ts";

registerPresenter<ElectricalCautions>("bench.electricalCautions", {
  report: (result) => ({
    title: "Before the diode is connected",
    headlines: [],
    rows: [
      row("least series resistor", result.seriesResistance, "Ω"),
      row("heat in that resistor", result.resistorPower, "W"),
      percentRow("greatest current, of the rated one", result.currentRatio),
      ...result.cautions.map((caution, k) => row(`caution ${k + 1}`, caution)),
    ],
    figures: [],
    method: "Common practice of handling laser diodes.",
  }),
});
