/**
 * Names that compiled cells use to reach the interpreter. They are long and
 * odd so that nobody meets them by chance.
 */
export const names = {
  /** Counter of turns of loops and calls of functions. */
  turns: "__fringebookTurns",
  /** Called each 1024 turns; throws when an interrupt is asked for. */
  check: "__fringebookCheck",
  /** Wraps what is awaited, so that an interrupt can reject it. */
  awaited: "__fringebookAwait",
  /** Wraps what `for await` iterates. */
  iterated: "__fringebookIterate",
  /** Takes the value of the last expression. */
  value: "__fringebookValue",
  /** Loads a module and checks that it has the names asked for. */
  load: "__fringebookLoad",
  /** Resolves the argument of a dynamic import. */
  resolve: "__fringebookResolve",
  /** Gives the address of a local module, a new one where it was edited. */
  fresh: "__fringebookFresh",
  /** Resolves when all that the cell has begun has come to a wait. */
  settled: "__fringebookSettled",
  /** Holds the first value of a variable until it is declared. */
  held: "__fringebookHeld",
  /** What was thrown. */
  thrown: "__fringebookThrown",
  /** Stands for `import.meta`. */
  meta: "__fringebookMeta",
} as const;

/** Whether a name belongs to the interpreter and should not be shown. */
export function isInternalName(name: string): boolean {
  return name.startsWith("__fringebook");
}
