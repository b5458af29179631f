/**
 * Samples times iterations of all fits to one record, some 50 ns each, and what
 * its searches take: where no reading fits, looking for one must end.
 */
export interface Effort {
  /** Spent so far. */
  spent: number;
  /** What may be spent. */
  most: number;
}

/** Some three seconds; a record of 10 000 samples that can be read takes a tenth. */
const usual = 4e7;
/** For a long record of which not even a part can be read. */
const little = 1.5e7;

/** A record that nothing was tried on yet. */
export function createEffort(): Effort {
  return { spent: 0, most: usual };
}

/** Leaves little to be spent. */
export function expectLittle({ effort }: { readonly effort: Effort }): void {
  effort.most = little;
}

/** Whether enough was tried: what is found so far stands, doubts and all. */
export function isExhausted({ effort }: { readonly effort: Effort }): boolean {
  return effort.spent > effort.most;
}
