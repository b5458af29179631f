import {
  benchOptions,
  choiceOption,
  optional,
  optionOf,
  quantityOption,
} from "../options/mod.ts";
import { windowNames } from "./window.ts";

/** The sampling rate of samples that do not say it themselves. */
export const samplingSpec = { samplingRate: benchOptions.samplingRate };

/** How one segment is made into a spectrum. */
export const segmentSpec = {
  window: optional(choiceOption("Window.", windowNames), "Hann"),
  detrending: optional(
    choiceOption("What is removed from each segment before it is windowed.", [
      "none",
      "constant",
      "linear",
    ]),
    "constant",
  ),
} as const;

/** How samples are cut into segments. */
export const cutSpec = {
  segmentLength: optional(
    optionOf.whole("Samples per segment; a power of two is fastest.", {
      least: 1,
    }),
    undefined,
    "a part of the record",
  ),
  overlap: optional(
    quantityOption({
      doc: "Part of a segment that the next one shares (1).",
      unit: "1",
      least: 0,
      most: 1,
      example: "0.5",
    }),
    0.5,
  ),
} as const;

/** The channel that a stream is analysed of. */
export const channelSpec = {
  channel: optional(
    choiceOption("Channel to analyse, by its role.", [
      "monitor signal",
      "junction voltage",
      "drive current",
      "drive voltage",
      "other",
    ]),
    "monitor signal",
  ),
} as const;
