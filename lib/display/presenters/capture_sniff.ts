import type { CaptureSniff } from "../../capture/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { formatNumber } from "../format_number.ts";
import { row } from "./rows.ts";

registerPresenter<CaptureSniff>("capture.sniff", {
  report: (sniff) => ({
    title: `This file looks like: ${sniff.format}`,
    headlines: [],
    rows: [
      row("variant", sniff.variant),
      row("sampling rate", sniff.samplingRate, "Hz"),
      row("samples per channel", sniff.sampleCount ?? "known once it is read"),
      ...sniff.channels.map(({ name, role, unit, scale }, k) =>
        row(
          `channel ${name}`,
          role,
          "",
          `in ${unit}, numbers × ${formatNumber(scale)}; begins ${
            (sniff.diagnostics.firstSamples[k] ?? []).slice(0, 4)
              .map((value) => formatNumber(value, { unit, digits: 4 }))
              .join(", ")
          }`,
        )
      ),
      ...sniff.assumptions.map(({ what, value, because, option }) =>
        row(
          what,
          value,
          "",
          option === "" ? because : `${because}; option: ${option}`,
        )
      ),
    ],
    figures: [],
    method: "Looked at the beginning of the file only.",
  }),
  rows: ({ channels }) => channels.map((channel) => ({ ...channel })),
});
