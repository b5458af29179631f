import type { ExecuteError } from "../protocol/interpreter.ts";
import { awaitsOf, type CellPosition, cellSource } from "./positions.ts";
import { cellPlaceText, framesOf, frameText } from "./stack.ts";
import { CellSyntaxError } from "./syntax_error.ts";

/** Says how a person can grant what was refused; `null` if it is no refusal. */
export type RefusalHint = (error: unknown) => string | null;

const shownFrames = 8;

/**
 * The form in which an error is shown: the person's own line first, then the
 * error, then a short stack.
 *
 * @param error What was thrown; anything.
 * @param options Number of the cell that ran, and the hint for refusals.
 * @returns Name, message and traceback, plain text.
 */
export function errorForm(
  error: unknown,
  options: { ordinal: number; refusalHint?: RefusalHint },
): ExecuteError {
  const { ordinal, refusalHint = () => null } = options;
  const { ename, message: whole } = nameAndMessage(error);
  const message = whole.replace(/, run again with the --allow-\w+ flag$/, "");
  const hint = attempt(() => refusalHint(error), null);
  const evalue = hint === null ? message : `${message}\n${hint}`;
  const frames = framesOf(error);
  const position = error instanceof CellSyntaxError
    ? { ordinal, line: error.line, column: error.column }
    : frames.find(({ cell }) => cell !== null)?.cell ?? awaitsOf(error)[0] ??
      null;
  const stack = error instanceof CellSyntaxError ? [] : frames;
  const useful = stack.length === 1 && stack[0]?.cell ? [] : stack;
  const traceback = [
    ...(position ? ownLine(position) : []),
    evalue === "" ? ename : `${ename}: ${evalue}`,
    ...useful.slice(0, shownFrames).map(frameText),
    ...(useful.length > shownFrames
      ? [`    … ${useful.length - shownFrames} more`]
      : []),
    ...causes(error),
  ];
  return { ename, evalue, traceback };
}

/** `cell [3] line 2`, the line itself, and a mark under the column. */
function ownLine(position: CellPosition): string[] {
  const place = cellPlaceText(position);
  const text = cellSource(position.ordinal)?.code.split(
    "\n",
  )[position.line - 1];
  if (text === undefined) return [place];
  const shown = text.slice(0, 200);
  const gutter = `${position.line} | `;
  const mark = " ".repeat(gutter.length - 2) + "| " +
    shown.slice(0, position.column - 1).replace(/[^\t]/g, " ") + "^";
  return [place, gutter + shown, mark];
}

function nameAndMessage(error: unknown): { ename: string; message: string } {
  if (!(error instanceof Error)) {
    return {
      ename: "Thrown",
      message: attempt(() => Deno.inspect(error, { colors: false }), "?"),
    };
  }
  const name = attempt(() => String(error.name), "Error");
  // Results of the trade's own classes keep their name; plain `Error` too.
  return { ename: name || "Error", message: attempt(() => error.message, "") };
}

function causes(error: unknown): string[] {
  const lines: string[] = [];
  let cause = attempt(() => (error as Error).cause, undefined);
  for (let depth = 0; cause !== undefined && depth < 5; depth++) {
    const { ename, message } = nameAndMessage(cause);
    lines.push(`Caused by ${ename}: ${message}`);
    const first = framesOf(cause)[0];
    if (first) lines.push(frameText(first));
    const outer = cause;
    cause = attempt(() => (outer as Error).cause, undefined);
  }
  return lines;
}

function attempt<T>(work: () => T, otherwise: T): T {
  try {
    return work();
  } catch {
    return otherwise;
  }
}
