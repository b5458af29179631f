import { registerPresenter } from "../../result/mod.ts";
import type { ScreenSpeed } from "../../speed/mod.ts";
import { budgetFigure } from "../figures/mod.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<ScreenSpeed>("speed.screen", {
  report: (result) => ({
    title: "Speed counted on a screen",
    headlines: [headline("speed", result.speed)],
    rows: [
      quantityRow("fringes between the cursors", result.diagnostics.fringes),
      quantityRow("time between the cursors", result.diagnostics.duration),
      quantityRow("Doppler frequency", result.dopplerFrequency),
      ...result.budget.lines.map(({ name, contribution }) =>
        row(`uncertainty from ${name}`, contribution, "m/s")
      ),
    ],
    figures: [{
      name: "budget",
      caption:
        "Where the uncertainty of the speed comes from, largest part on top",
      draw: () =>
        budgetFigure(
          result.budget.lines,
          result.speed.standardUncertainty,
          "m/s",
          "Uncertainty budget of the speed",
        ),
    }],
    method:
      "Fringes counted by hand between two cursors; wavelength, angle and air turn their rate into a speed.",
  }),
  rows: ({ budget }) => budget.lines.map((line) => ({ ...line })),
});
