import type { Recognition } from "../../explore/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { row } from "./rows.ts";

registerPresenter<Recognition>("explore.recognition", {
  report: ({ measurement, reason, nextStep }) => ({
    title: measurement === "none"
      ? "No measurement recognised"
      : `This capture looks like: ${measurement}`,
    headlines: [],
    rows: [row("why", reason), row("next", nextStep)],
    figures: [],
    method: "",
  }),
});
