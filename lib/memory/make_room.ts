import { v8Module, vmModule } from "../runtime/mod.ts";

/** Arrays below this size are not worth a search, in bytes. */
const leastSize = 1 << 25;

let collect: (() => void) | null | undefined;

/**
 * Sees to it that large arrays which nothing holds any more are let go of before
 * new ones are made. V8 looks for them in its own time, which may be after some
 * results of 100 MB each: a loop over long records would hold them all at once.
 *
 * Takes some 10 ms, and is done only where a good part of what is wanted may lie
 * waiting. Where V8 does not let itself be asked nothing is done.
 *
 * @param wanted Bytes of the arrays that are about to be made.
 * @param held Bytes of arrays that are known to be in use.
 */
export function makeRoom(wanted: number, held: number): void {
  if (wanted < leastSize || typeof Deno === "undefined") return;
  if (Deno.memoryUsage().external < held + wanted / 4) return;
  if (collect === undefined) collect = loadCollector();
  collect?.();
}

/** The collector of V8, which shows it to a context made after this flag. */
function loadCollector(): (() => void) | null {
  try {
    v8Module().setFlagsFromString("--expose-gc");
    return vmModule().runInNewContext("gc");
  } catch {
    return null;
  }
}
