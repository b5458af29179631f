import type { MeasurementPlan } from "../../bench/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { row } from "./rows.ts";

registerPresenter<MeasurementPlan>("bench.plan", {
  report: ({ verdicts, rows }) => ({
    title: "Plan of the measurement",
    headlines: [],
    rows: [
      ...verdicts.map(({ measurement, feasible, limitedBy, reason }) =>
        row(
          measurement,
          feasible === "yes" ? feasible : `${feasible}: ${limitedBy}`,
          "",
          reason,
        )
      ),
      ...rows.map(({ name, value, unit, reason }) =>
        row(name, value, unit, reason)
      ),
    ],
    figures: [],
    method:
      "Fringe rates, sampling and bandwidth follow from wavelength, motion and ramp.",
  }),
  rows: ({ rows }) => rows.map((entry) => ({ ...entry })),
});
