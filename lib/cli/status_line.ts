import type { RunProgress, RunWork } from "../notebook/mod.ts";

/** Progress on the terminal: one line that changes, and lines that stay. */
export interface StatusLine {
  /** Whether anybody sees the line that changes. */
  readonly isSeen: boolean;
  /** Shows what a lane does now. */
  tell(lane: number, text: string): void;
  /** Prints a line that stays. */
  line(text: string): void;
  /** Clears the line that changes. */
  end(): void;
  /** Leaves the line that changes as it stands. */
  leave(): void;
}

/**
 * Makes a status line on standard error. Where that is no terminal only the
 * lines that stay are printed.
 */
export function createStatusLine(): StatusLine {
  const terminal = Deno.stderr.isTerminal();
  const lanes: string[] = [];
  const write = (text: string) =>
    Deno.stderr.writeSync(new TextEncoder().encode(text));
  const clear = terminal ? "\r\x1b[K" : "";
  return {
    isSeen: terminal,
    tell(lane, text) {
      lanes[lane] = text;
      if (!terminal) return;
      const shown = lanes.filter((lane) => lane).join("   ");
      write(`${clear}${shown.slice(0, 100)}`);
    },
    line(text) {
      write(`${clear}${text}\n`);
    },
    end() {
      write(clear);
    },
    leave() {
      if (terminal) write("\n");
    },
  };
}

/**
 * Tells how far a notebook has run, and what a long cell does.
 *
 * @param tell Told in words, such as `"3 of 12 cells, fit phase: 40 %, 2 s left"`.
 * @param name Stands before it.
 * @returns Options of `runNotebook`.
 */
export function followRun(tell: (text: string) => void, name = "") {
  const cells = ({ done, total }: RunProgress | RunWork) =>
    `${name === "" ? "" : `${name}: `}${done} of ${total} cells`;
  return {
    onProgress: (progress: RunProgress) => tell(cells(progress)),
    onWork: (work: RunWork) => tell(`${cells(work)}, ${work.text}`),
  };
}
