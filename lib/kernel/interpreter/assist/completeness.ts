import type { Completeness } from "../../protocol/interpreter.ts";
import { parseCell } from "../transpile.ts";

/** Errors of the parser that more text could mend, wherever they are found. */
const unfinished = new Set([
  1010, // '*/' expected
  1160, // unterminated template literal
]);

/**
 * Says whether a piece of code could be run, or wants more lines.
 *
 * @param code The code.
 * @returns `incomplete` where the parser stopped at the end of the text.
 */
export function completenessOf(code: string): Completeness {
  const [first] = parseCell(code).problems;
  if (!first) return { status: "complete", indent: "" };
  const end = code.trimEnd().length;
  // A quoted text cannot go on in the next line (error 1002).
  const more = unfinished.has(first.code) ||
    first.code !== 1002 && (first.start ?? 0) >= end;
  return more
    ? { status: "incomplete", indent: nextIndent(code) }
    : { status: "invalid", indent: "" };
}

/** The last line's indent, and two more after an opening bracket. */
function nextIndent(code: string): string {
  const last = code.trimEnd().split("\n").at(-1) ?? "";
  const indent = /^\s*/.exec(last)?.[0] ?? "";
  return /[{[(]\s*(\/\/.*)?$/.test(last) ? `${indent}  ` : indent;
}
