let current: string | null = null;

/**
 * Tells how long a computation is expected to take, for those who show its
 * progress. It stands until the next one is told or forgotten.
 *
 * @param text In words, such as `"48000 samples: some 2 s"`; `null` forgets it.
 *
 * @example
 * ```ts
 * import { expectedWork, expectWork } from "fringebook/progress";
 * import { expect } from "vitest";
 *
 * expectWork("48000 samples: some 2 s");
 * expect(expectedWork()).toBe("48000 samples: some 2 s");
 * expectWork(null);
 * ```
 */
export function expectWork(text: string | null): void {
  current = text;
}

/**
 * How long the computation at hand is expected to take.
 *
 * @returns In words; `null` where nothing was told.
 *
 * @example
 * ```ts
 * import { expectedWork } from "fringebook/progress";
 * import { expect } from "vitest";
 *
 * expect(expectedWork()).toBe(null);
 * ```
 */
export function expectedWork(): string | null {
  return current;
}
