import type { FeedbackEstimate } from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { phasePortrait, targetPhase } from "./phase_portrait.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<FeedbackEstimate>("motion.feedback", {
  report: (estimate) => ({
    title: `Feedback: ${estimate.regime}`,
    headlines: [
      headline("feedback parameter C", estimate.feedbackParameter),
      headline(
        "linewidth enhancement factor α",
        estimate.linewidthEnhancementFactor,
      ),
    ],
    rows: [
      row("regime", estimate.regime),
      row("fringes of the record", estimate.diagnostics.fringes),
      ...(estimate.timing === null ? [] : [
        quantityRow("C by times alone", estimate.timing.feedbackParameter),
        quantityRow(
          "α by times alone",
          estimate.timing.linewidthEnhancementFactor,
        ),
        quantityRow(
          "zero crossing to jump, receding",
          estimate.timing.rising,
          "in fringes",
        ),
        quantityRow(
          "zero crossing to jump, approaching",
          estimate.timing.falling,
          "in fringes",
        ),
      ]),
    ],
    figures: [{
      name: "phase portrait",
      caption:
        "Signal against the phase of the target, receding and approaching, with the fitted model: its slant shows the feedback strength",
      draw: () => {
        const { feedbackPhase, signal, way } = estimate.diagnostics;
        return phasePortrait({
          phase: Array.from(
            feedbackPhase,
            (angle) => targetPhase(angle, estimate),
          ),
          level: Array.from(signal),
          way: Array.from(way),
        }, estimate);
      },
    }],
    method:
      "The excess-phase model is fitted to every sample; above C = 1 the times of the jumps give C and α a second time.",
  }),
});
