/**
 * Counting of the checks of an outside suite.
 *
 * @module
 */

let passed = 0;
let failed = 0;

/** Runs a check, prints how it ended, and goes on either way. */
export async function check(
  name: string,
  body: () => Promise<void> | void,
): Promise<void> {
  const begin = performance.now();
  try {
    await body();
    passed++;
    const time = ((performance.now() - begin) / 1000).toFixed(1);
    console.log(`ok: ${name} (${time} s)`);
  } catch (error) {
    fail(`${name}\n${(error as Error).message}`);
  }
}

/** Counts something that failed outside of a check. */
export function fail(what: string): void {
  failed++;
  console.log(`FAILED: ${what}`);
}

/** Fails a check where a condition does not hold. */
export function demand(condition: unknown, why: string): asserts condition {
  if (!condition) throw new Error(why);
}

/** Prints the sum that CI reads, and ends the process. */
export function finish(): never {
  console.log(`${passed} passed, ${failed} failed`);
  Deno.exit(failed > 0 ? 1 : 0);
}
