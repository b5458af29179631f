import type { FringeCount } from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<FringeCount>("motion.fringes", {
  report: (count) => ({
    title: "Fringes of a moving target",
    headlines: [
      headline("fringes, both ways together", count.fringeCount),
      headline("displacement", count.displacement),
    ],
    rows: [
      row("direction", count.direction),
      quantityRow(
        "net fringes",
        count.netFringeCount,
        "receding − approaching",
      ),
      quantityRow("way passed", count.path),
      row("turning points", count.turningPoints.length),
      row("asymmetry of the fringes", count.diagnostics.asymmetry),
    ],
    figures: [],
    method:
      "Each fringe is half a wavelength of motion; the slant of the saw-tooth tells the way.",
  }),
  rows: ({ times, signs }) =>
    Array.from(times, (time, k) => ({ time, sign: signs[k]! })),
});
