import type { LiveFrame, LiveRow } from "../../live/mod.ts";
import { formatNumber } from "../format_number.ts";
import { formatQuantity } from "../format_quantity.ts";

/** A value of the meter with its name. */
export interface NamedText {
  /** What it is. */
  readonly label: string;
  /** The value with its unit. */
  readonly text: string;
}

/** The meter in words: level, fringes, contrast and so on. */
export function meterWords({ reading }: LiveFrame): NamedText[] {
  if (reading === null) return [];
  const { unit, hum } = reading;
  const number = (value: number, of = unit, digits = 3) =>
    Number.isFinite(value) ? formatNumber(value, { unit: of, digits }) : "–";
  return [
    { label: "level", text: number(reading.level) },
    { label: "fringes", text: number(reading.fringes) },
    { label: "contrast", text: number(100 * reading.contrast, "%", 2) },
    { label: "noise", text: number(reading.noise, unit, 2) },
    { label: "SNR", text: number(round(reading.signalToNoise), "dB") },
    { label: "fringe rate", text: number(reading.fringeRate, "Hz", 3) },
    {
      label: "clipped",
      text: number(100 * reading.clippedFraction, "%", 2),
    },
    {
      label: "hum",
      text: hum === null
        ? "none"
        : `${number(hum.amplitude)} at ${hum.frequency} Hz`,
    },
    ...(Number.isFinite(reading.feedbackParameter)
      ? [{
        label: "C, by its jumps",
        text: `about ${number(reading.feedbackParameter, "1", 2)}`,
      }]
      : []),
  ];
}

function round(value: number): number {
  return Math.round(10 * value) / 10;
}

/** A value beside the meter in words. */
export function rowWords(row: LiveRow): NamedText {
  const { label, value, unit, standardUncertainty } = row;
  return {
    label,
    text: typeof value === "string"
      ? value
      : Number.isFinite(standardUncertainty)
      ? formatQuantity({ value, unit, standardUncertainty })
      : formatNumber(value, { unit, digits: 4 }),
  };
}

/** What is said of the class and the current; `""` where nothing is known. */
export function safetyWords({ safety }: LiveFrame): string {
  if (safety === null) {
    return "Nothing is known of the diode: give 'diode' for its class and rated current.";
  }
  const { current, ratedCurrent, laserClass, ratedClass, isOver } = safety;
  const rated = `at the rated ${formatNumber(ratedCurrent, { unit: "A" })}`;
  const now = Number.isFinite(current)
    ? `Class ${laserClass} at ${
      formatNumber(current, { unit: "A", digits: 3 })
    }, class ${ratedClass} ${rated}`
    : `Class ${ratedClass} ${rated}; the current is not known`;
  return `${now}${
    isOver ? ", which is passed" : ""
  } (${safety.statement}). Do not look into the beam.`;
}

/** What a capture waits for, and how to take one all the same; `""` for none. */
export function waitingWords({ waitingFor }: LiveFrame): string {
  return waitingFor === ""
    ? ""
    : waitingFor === "good fringes"
    ? 'The capture waits for good fringes; with when: "now" it does not.'
    : `The capture waits for ${waitingFor}.`;
}

/** What is said of the recording; `""` for none. */
export function recordingWords({ recording, samplingRate }: LiveFrame): string {
  if (recording === null) return "";
  const { path, samples, droppedBlocks } = recording;
  return `Recording ${path}: ${
    formatNumber(samples / samplingRate, { unit: "s", digits: 3 })
  }, ${droppedBlocks} blocks dropped`;
}

/** What the signal looks like, in a word or two. */
export function stateWords(
  { state, sourceState }: LiveFrame,
): string {
  return sourceState === "stalled"
    ? "stalled"
    : sourceState === "failed"
    ? "source failed"
    : state ?? "waiting";
}
