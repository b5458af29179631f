/**
 * Samples times iterations of all fits to one record, some 50 ns each, and what
 * its searches take: where no reading fits, looking for one must end.
 */
export interface Effort {
  /** Spent so far. */
  spent: number;
}

/** Some three seconds; a record of 10 000 samples that can be read takes a tenth. */
const most = 4e7;

/** A record that nothing was tried on yet. */
export function createEffort(): Effort {
  return { spent: 0 };
}

/** Whether enough was tried: what is found so far stands, doubts and all. */
export function isExhausted({ effort }: { readonly effort: Effort }): boolean {
  return effort.spent > most;
}
