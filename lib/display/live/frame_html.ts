import { encodeBase64 } from "@std/encoding/base64";
import type { LiveFrame } from "../../live/mod.ts";
import { escapeHtml } from "../escape.ts";
import { colours } from "../theme.ts";
import { barPicture, tracePicture } from "./frame_picture.ts";
import {
  meterWords,
  type NamedText,
  recordingWords,
  rowWords,
  safetyWords,
  stateWords,
  waitingWords,
} from "./frame_words.ts";

const cell = "text-align: left; padding: 0.1em 1em 0.1em 0; border: none;";
const box =
  "border-left: 0.35em solid #d55e00; padding: 0.2em 0.8em; margin: 0.3em 0;";
const e = escapeHtml;

/**
 * One picture of a live view as HTML, without a script.
 *
 * @param frame What is to be shown.
 * @param isLast Whether it stays in the notebook: its drawings are then pictures,
 * which are seen also where a notebook is not trusted.
 */
export function frameHtml(frame: LiveFrame, isLast: boolean): string {
  const drawing = (svg: string, alt: string) =>
    isLast
      ? `<img alt="${
        e(alt)
      }" style="max-width: 100%" src="data:image/svg+xml;base64,${
        encodeBase64(new TextEncoder().encode(svg))
      }">`
      : svg;
  const state = stateWords(frame);
  const colour = state === "good" ? colours.green : colours.vermilion;
  const recording = recordingWords(frame);
  const waiting = frame.waitingFor === ""
    ? ""
    : `<p style="margin: 0.2em 0">${e(waitingWords(frame))}</p>`;
  const { safety } = frame;
  const safetyLine = e(safetyWords(frame));
  return `<div class="fringebook-live" data-newest="${frame.newest}" data-state="${
    e(state)
  }">` +
    `<p style="font-size: 1.25em; margin: 0.2em 0; min-height: 3.2em"><strong style="color: #ffffff; background: ${colour}; padding: 0.1em 0.5em">${
      e(state)
    }</strong> ${e(frame.hint)}</p>` +
    drawing(barPicture(frame), "Bar: how strong the fringes are") +
    table(meterWords(frame), 3) +
    drawing(tracePicture(frame), "The last stretch of the monitor signal") +
    table(frame.rows.map(rowWords), 1) +
    frame.faults.map((fault) => `<p role="note" style="${box}">${e(fault)}</p>`)
      .join("") +
    waiting +
    (recording === "" ? "" : `<p style="margin: 0.2em 0">${e(recording)}</p>`) +
    `<p style="margin: 0.2em 0"><small>${
      safety?.isOver ? `<strong>${safetyLine}</strong>` : safetyLine
    }</small></p></div>`;
}

/** Values in columns, read across. */
function table(words: readonly NamedText[], columns: number): string {
  if (words.length === 0) return "";
  const rows: string[] = [];
  for (let at = 0; at < words.length; at += columns) {
    rows.push(
      `<tr>${
        words.slice(at, at + columns).map(({ label, text }) =>
          `<th scope="row" style="${cell} font-weight: normal">${
            e(label)
          }</th><td style="${cell} font-weight: bold; min-width: 7em">${
            e(text)
          }</td>`
        ).join("")
      }</tr>`,
    );
  }
  return `<table style="border-collapse: collapse; margin: 0.3em 0"><tbody>${
    rows.join("")
  }</tbody></table>`;
}
