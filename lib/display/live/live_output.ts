import type { LiveFrame } from "../../live/mod.ts";
import { type Cell, currentCell } from "../cell.ts";
import { escapeHtml } from "../escape.ts";
import { frameHtml } from "./frame_html.ts";
import { frameLines } from "./frame_text.ts";
import { stopButtonHtml } from "./stop_button.ts";
import { isTerminal, terminalWidth } from "../terminal.ts";

/** Where the pictures of a live view go, each in place of the one before. */
export interface LiveOutput {
  /** Shows a picture. */
  show(frame: LiveFrame): void;
  /** Shows the last one, and how the view ended. */
  end(frame: LiveFrame, how: string): void;
}

/**
 * The fitting output: two outputs of the running cell in a notebook, a few lines
 * in a terminal; where the output goes to a file or a pipe, a line for each change
 * of the state.
 */
export function createLiveOutput(): LiveOutput {
  const cell = currentCell();
  if (cell !== null) return cellOutput(cell);
  return isTerminal("stdout") ? terminalOutput() : plainOutput();
}

function cellOutput(cell: Cell): LiveOutput {
  const shown = new Set<string>();
  const publish = (
    displayId: string,
    data: Record<string, string>,
  ) => {
    cell.publish({
      type: shown.has(displayId) ? "update_display_data" : "display_data",
      data,
      metadata: {},
      displayId,
    });
    shown.add(displayId);
  };
  const button = crypto.randomUUID();
  const picture = crypto.randomUUID();
  const paint = (frame: LiveFrame, isLast: boolean) =>
    publish(picture, {
      "text/html": frameHtml(frame, isLast),
      "text/plain": frameLines(frame).join("\n"),
    });
  publish(button, {
    "text/html": stopButtonHtml(),
    "text/plain": "The stop button of the notebook ends the live view.",
  });
  return {
    show: (frame) => paint(frame, false),
    end(frame, how) {
      paint(frame, true);
      publish(button, {
        "text/html": `<p>${escapeHtml(how)}</p>`,
        "text/plain": how,
      });
    },
  };
}

function terminalOutput(): LiveOutput {
  let height = 0;
  const write = (text: string) =>
    Deno.stdout.writeSync(new TextEncoder().encode(text));
  const paint = (lines: readonly string[]) => {
    const width = Math.max(20, terminalWidth() - 1);
    const up = height > 0 ? `\x1b[${height}A\r` : "\r";
    const wrapped = lines.flatMap((line) => wrap(line, width));
    write(`${up}\x1b[J${wrapped.join("\n")}\n`);
    height = wrapped.length;
  };
  return {
    show: (frame) => paint(frameLines(frame)),
    end: (frame, how) => paint([...frameLines(frame), how]),
  };
}

function plainOutput(): LiveOutput {
  let before = "";
  const tell = (frame: LiveFrame) => {
    const [first = "", , meter = ""] = frameLines(frame);
    const [state = ""] = first.split(":");
    if (state !== before) console.log(`${frame.time.toFixed(1)} s  ${first}`);
    before = state;
    return meter;
  };
  return {
    show: (frame) => void tell(frame),
    end(frame, how) {
      tell(frame);
      for (const line of frameLines(frame).slice(2)) console.log(line);
      console.log(how);
    },
  };
}

/** Breaks a line at spaces, so that lines can be counted. */
function wrap(line: string, width: number): string[] {
  const lines: string[] = [];
  let rest = line;
  while (rest.length > width) {
    const at = rest.lastIndexOf(" ", width);
    const cut = at > width / 2 ? at : width;
    lines.push(rest.slice(0, cut));
    rest = rest.slice(cut).trimStart();
  }
  return [...lines, rest];
}
