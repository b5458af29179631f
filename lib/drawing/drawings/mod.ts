import { alignmentDrawing } from "./alignment.ts";
import { amplifierDrawing } from "./amplifier.ts";
import { benchDrawing } from "./bench.ts";
import { countedRampDrawing, countedStrokeDrawing } from "./by_hand.ts";
import { leadTestDrawing } from "./lead_test.ts";
import { leadsDrawing } from "./leads.ts";
import { modulationDrawing } from "./modulation.ts";

/** What draws each file of `notebooks/guide/pictures/`. */
export const guideDrawings: Readonly<Record<string, () => string>> = {
  "alignment.svg": alignmentDrawing,
  "amplifier.svg": amplifierDrawing,
  "bench.svg": benchDrawing,
  "counted_ramp.svg": countedRampDrawing,
  "counted_stroke.svg": countedStrokeDrawing,
  "lead_test.svg": leadTestDrawing,
  "leads.svg": leadsDrawing,
  "modulation.svg": modulationDrawing,
};
