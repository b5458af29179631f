import type { Pitfalls } from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { headline, percentRow, quantityRow, row } from "./rows.ts";

registerPresenter<Pitfalls>("motion.pitfalls", {
  report: (result) => ({
    title: "What goes wrong with this capture",
    headlines: [headline("way passed", result.path)],
    rows: [
      row(
        "with a whole wavelength per fringe",
        result.pathWithWholeWavelength,
        "m",
        "twice too long: a fringe is half a wavelength",
      ),
      row(
        "from all maxima and minima",
        result.pathFromExtremes,
        "m",
        "turning points count as half fringes that are none",
      ),
      row("half fringes that are none", result.spuriousHalfFringes),
      quantityRow("drift per period", result.driftPerPeriod),
      row(
        "samples in the fastest fringe",
        result.samplesPerFringe,
        "",
        "below two the fringes fold",
      ),
      percentRow(
        "height of the slowest fringes",
        result.slowFringeHeight,
        "of the fastest: a coupling capacitor lowers slow ones",
      ),
      row("turning points", result.diagnostics.turningPoints),
    ],
    figures: [],
    method: "The same record evaluated with the usual mistakes.",
  }),
});
