import type { LiveFrame } from "../../live/mod.ts";
import { oneLine } from "../escape.ts";
import {
  meterWords,
  recordingWords,
  rowWords,
  safetyWords,
  stateWords,
  waitingWords,
} from "./frame_words.ts";

const barLength = 40;

/**
 * One picture of a live view as lines of text.
 *
 * @param frame What is to be shown.
 * @returns The lines, none of them with a control character.
 */
export function frameLines(frame: LiveFrame): string[] {
  const { trend, best, reading } = frame;
  const full = Math.round(barLength * Math.min(1, trend.part));
  const bar = best > 0 && reading !== null
    ? `[${"#".repeat(full).padEnd(barLength, ".")}] ${
      Math.round(100 * trend.part)
    } % of the best, ${trend.direction}`
    : `[${".".repeat(barLength)}] fringes do not count now`;
  const recording = recordingWords(frame);
  return [
    `${stateWords(frame).toUpperCase()}: ${frame.hint}`,
    bar,
    meterWords(frame).map(({ label, text }) => `${label} ${text}`).join("   "),
    ...frame.rows.map(rowWords).map(({ label, text }) => `${label}: ${text}`),
    ...frame.faults,
    ...(frame.waitingFor === "" ? [] : [waitingWords(frame)]),
    ...(recording === "" ? [] : [recording]),
    safetyWords(frame),
  ].map(oneLine);
}
