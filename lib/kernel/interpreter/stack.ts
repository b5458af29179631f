import { type CellPosition, cellSource, positionInCell } from "./positions.ts";

/** One line of a stack: in a cell, or in a file. */
export interface StackFrame {
  readonly functionName: string | null;
  /** The place in a cell; `null` for a file. */
  readonly cell: CellPosition | null;
  /** `file:line:column` where it is not in a cell. */
  readonly file: string | null;
}

interface CallSite {
  getFunctionName(): string | null;
  getScriptNameOrSourceURL(): string | null;
  getLineNumber(): number | null;
  getColumnNumber(): number | null;
}

const frames = new WeakMap<object, readonly StackFrame[]>();
const own = new URL("../", import.meta.url).href;

/**
 * Makes the stacks of errors speak of cells, and leaves out the frames of the
 * runtime and of the interpreter.
 */
export function installStackForm(): void {
  (Error as unknown as { prepareStackTrace: unknown }).prepareStackTrace = (
    error: Error,
    sites: CallSite[],
  ) => {
    const list = readFrames(sites);
    frames.set(error, list);
    return [headline(error), ...list.map(frameText)].join("\n");
  };
}

/** The frames of an error, the innermost first. */
export function framesOf(error: unknown): readonly StackFrame[] {
  if (typeof error !== "object" || error === null) return [];
  // Reading the stack makes the engine prepare it.
  try {
    void (error as Error).stack;
  } catch {
    return [];
  }
  return frames.get(error) ?? [];
}

/** One line of a stack as text. */
export function frameText(frame: StackFrame): string {
  const place = frame.cell ? cellPlaceText(frame.cell) : frame.file;
  return frame.functionName
    ? `    at ${frame.functionName} (${place})`
    : `    at ${place}`;
}

/** `cell [3] line 2`. */
export function cellPlaceText({ ordinal, line }: CellPosition): string {
  const count = cellSource(ordinal)?.executionCount ?? ordinal;
  return `cell [${count}] line ${line}`;
}

function readFrames(sites: CallSite[]): StackFrame[] {
  const list: StackFrame[] = [];
  for (const site of sites) {
    const url = site.getScriptNameOrSourceURL();
    const line = site.getLineNumber() ?? 1;
    const column = site.getColumnNumber() ?? 1;
    const cell = positionInCell(url, line, column);
    const functionName = site.getFunctionName();
    if (cell) {
      list.push({ functionName, cell, file: null });
    } else if (url && !/^(ext|node):/.test(url) && !url.startsWith(own)) {
      const file = `${url}:${line}:${column}`;
      list.push({ functionName, cell: null, file });
    }
  }
  return list;
}

function headline(error: Error): string {
  try {
    return Error.prototype.toString.call(error);
  } catch {
    return "Error";
  }
}
