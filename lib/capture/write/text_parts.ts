import type { Capture } from "../capture.ts";
import { checkpoint } from "../../progress/mod.ts";
import { formatDescription } from "../description.ts";
import type { TextDelimiter } from "../text/sniff.ts";

/** Rows encoded at once. */
const rowsPerPart = 8192;

/**
 * Delimited text: a remark line with the whole description, a heading with
 * units, one row per sample. Numbers are the shortest that read back exactly.
 */
export function* textParts(
  capture: Capture,
  delimiter: TextDelimiter,
  decimalMark: "." | ",",
): Generator<Uint8Array<ArrayBuffer>> {
  if (delimiter === "," && decimalMark === ",") {
    throw new RangeError(
      "Cannot write text as the comma cannot be delimiter and decimal mark at once",
    );
  }
  const { channels, sampleCount, samplingRate } = capture;
  const encoder = new TextEncoder();
  const heading = ["time (s)"].concat(
    channels.map(({ name, unit }) => `${name} (${unit})`),
  ).map((text) => quoteCell(text, delimiter));
  yield encoder.encode(
    `# ${formatDescription(capture)}\n${heading.join(delimiter)}\n`,
  );
  const number = (value: number): string => {
    if (value - value !== 0) return "";
    const text = Object.is(value, -0) ? "-0" : String(value);
    return decimalMark === "," ? text.replace(".", ",") : text;
  };
  for (let start = 0; start < sampleCount; start += rowsPerPart) {
    checkpoint(start / sampleCount, "write text");
    const end = Math.min(sampleCount, start + rowsPerPart);
    let text = "";
    for (let index = start; index < end; index++) {
      text += number(index / samplingRate);
      for (const { samples } of channels) {
        text += delimiter + number(samples[index]!);
      }
      text += "\n";
    }
    yield encoder.encode(text);
  }
}

function quoteCell(text: string, delimiter: string): string {
  const line = text.replace(/[\r\n]+/g, " ");
  return line.includes(delimiter) || line.includes('"')
    ? `"${line.replaceAll('"', '""')}"`
    : line;
}
