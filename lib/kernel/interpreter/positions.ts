import { originalPositionFor, TraceMap } from "@jridgewell/trace-mapping";

/** A place in a cell as the person typed it. */
export interface CellPosition {
  /** Number of the run in the session. */
  readonly ordinal: number;
  /** From 1. */
  readonly line: number;
  /** From 1. */
  readonly column: number;
}

/** What is kept of each cell that ran, to find the way back from an error. */
export interface CellSource {
  readonly executionCount: number;
  readonly cellId: string | null;
  readonly code: string;
  readonly map: string;
}

const prefix = "fringebook-cell:";
const sources = new Map<number, CellSource>();
const traces = new Map<number, TraceMap>();
const awaits = new WeakMap<object, CellPosition[]>();

/** Remembers a cell; returns the URL under which its script runs. */
export function rememberCell(ordinal: number, source: CellSource): string {
  sources.set(ordinal, source);
  return `${prefix}${ordinal}`;
}

/** The cell of a run, if it is known. */
export function cellSource(ordinal: number): CellSource | undefined {
  return sources.get(ordinal);
}

/** Texts of the cells that were run, the oldest first. */
export function cellTexts(): string[] {
  return [...sources.values()].map(({ code }) => code);
}

/**
 * Finds the place in the person's text.
 *
 * @param url URL of the script.
 * @param line Line in the script, from 1.
 * @param column Column in the script, from 1.
 * @returns The place; `null` where the script is not a cell.
 */
export function positionInCell(
  url: string | null | undefined,
  line: number,
  column: number,
): CellPosition | null {
  if (!url?.startsWith(prefix)) return null;
  const ordinal = Number(url.slice(prefix.length));
  const source = sources.get(ordinal);
  if (source === undefined) return null;
  let trace = traces.get(ordinal);
  if (trace === undefined) {
    trace = new TraceMap(source.map);
    traces.set(ordinal, trace);
  }
  // The first line of the script is the interpreter's own.
  const found = originalPositionFor(trace, {
    line: Math.max(1, line - 1),
    column: column - 1,
  });
  if (found.line === null) return { ordinal, line: 1, column: 1 };
  return { ordinal, line: found.line, column: found.column + 1 };
}

/** Remembers that an error passed an `await`; its stack may not say so. */
export function noteAwait(
  reason: unknown,
  [ordinal, line, column]: readonly [number, number, number],
): void {
  if (typeof reason !== "object" || reason === null) return;
  const list = awaits.get(reason) ?? [];
  if (list.length < 8) list.push({ ordinal, line, column });
  awaits.set(reason, list);
}

/** The awaits that an error passed, the innermost first. */
export function awaitsOf(reason: unknown): readonly CellPosition[] {
  return typeof reason === "object" && reason !== null
    ? awaits.get(reason) ?? []
    : [];
}
