import type { RecordCheck } from "../../record/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { headline, row } from "./rows.ts";

registerPresenter<RecordCheck>("record.check", {
  report: ({ measured, reference, difference, normalizedError, agrees }) => ({
    title: agrees
      ? "The check agrees with the record"
      : "The check does not agree with the record",
    headlines: [headline("measured", measured)],
    rows: [
      row("reference", reference.value, reference.unit),
      row(
        "U of the reference, k = 2",
        2 * reference.standardUncertainty,
        reference.unit,
      ),
      row("measured − reference", difference, measured.unit),
      row("Eₙ", normalizedError, "", "agreement: −1 to 1"),
    ],
    figures: [],
    method:
      "Eₙ is the difference over its expanded uncertainty, k = 2 (ISO 13528).",
  }),
});
