import { v8Module, vmModule } from "../runtime/mod.ts";

/** Arrays below this size are not worth a search, in bytes. */
const leastSize = 1 << 25;

let collect: ((options?: { type: "minor" }) => void) | null | undefined;
/** Bytes that were still held after all was looked through. */
let inUse = 0;

/**
 * Sees to it that large arrays which nothing holds any more are let go of before
 * new ones are made. V8 looks for them in its own time, which may be after some
 * results of 100 MB each: a loop over long records would hold them all at once.
 *
 * The young generation is looked through first, in a millisecond: a result that
 * was let go of at once lies there. Looking through all takes some 30 ms, and is
 * done only where a good part of what is wanted may still lie waiting. Where V8 does
 * not let itself be asked nothing is done.
 *
 * @param wanted Bytes of the arrays that are about to be made.
 * @param held Bytes of arrays that are known to be in use.
 */
export function makeRoom(wanted: number, held: number): void {
  if (wanted < leastSize || typeof Deno === "undefined") return;
  // What was still held when all was looked through is likely to be so.
  const isNeeded = () =>
    Deno.memoryUsage().external >= Math.max(held, inUse) + wanted / 4;
  if (!isNeeded()) return;
  if (collect === undefined) collect = loadCollector();
  if (collect === null) return;
  collect({ type: "minor" });
  if (!isNeeded()) return;
  collect();
  inUse = Deno.memoryUsage().external;
}

/** The collector of V8, which shows it to a context made after this flag. */
function loadCollector(): Exclude<typeof collect, undefined> {
  try {
    v8Module().setFlagsFromString("--expose-gc");
    return vmModule().runInNewContext("gc");
  } catch {
    return null;
  }
}
