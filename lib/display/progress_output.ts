import { currentCell } from "./cell.ts";
import { escapeHtml } from "./escape.ts";
import { isTerminal, terminalWidth } from "./terminal.ts";

/** Where progress is told: shows a line in place of the line before. */
export interface ProgressOutput {
  /** Shows the state; `final` for the last line. */
  show(state: ProgressState, final: boolean): void;
}

/** What there is to tell. */
export interface ProgressState {
  /** Name of the work. */
  readonly label: string;
  /** Steps done. */
  readonly done: number;
  /** Steps in all; `null` where not known. */
  readonly total: number | null;
  /** The same in words. */
  readonly text: string;
}

/**
 * The fitting output: one output of the running cell in a notebook, one line in
 * a terminal, nothing where the output goes to a file or a pipe.
 *
 * @returns The output.
 */
export function progressOutput(): ProgressOutput {
  const cell = currentCell();
  if (cell !== null) {
    const displayId = crypto.randomUUID();
    let shown = false;
    return {
      show(state) {
        cell.publish({
          type: shown ? "update_display_data" : "display_data",
          data: {
            "text/html": html(state),
            "text/plain": state.text,
          },
          metadata: {},
          displayId,
        });
        shown = true;
      },
    };
  }
  if (!isTerminal("stderr")) return { show() {} };
  const encoder = new TextEncoder();
  return {
    show(state, final) {
      const width = terminalWidth();
      const line = state.text.slice(0, Math.max(10, width - 1));
      Deno.stderr.writeSync(
        encoder.encode(`\r\x1b[2K${line}${final ? "\n" : ""}`),
      );
    },
  };
}

function html({ label, done, total, text }: ProgressState): string {
  const bar = total === null || total === 0
    ? ""
    : `<progress aria-label="${escapeHtml(label)}" value="${
      Math.min(done, total)
    }" max="${total}"></progress> `;
  return `<p>${bar}${escapeHtml(text)}</p>`;
}
