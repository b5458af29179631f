import type * as V8 from "node:v8";
import type * as Vm from "node:vm";

/** Arrays below this size are not worth a search, in bytes. */
const leastSize = 1 << 25;

interface Builtins {
  getBuiltinModule(name: "node:v8"): typeof V8;
  getBuiltinModule(name: "node:vm"): typeof Vm;
}

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
  if (wanted < leastSize) return;
  if (Deno.memoryUsage().external < held + wanted / 4) return;
  if (collect === undefined) collect = loadCollector();
  collect?.();
}

/** The collector of V8, which shows it to a context made after this flag. */
function loadCollector(): (() => void) | null {
  try {
    const { process } = globalThis as unknown as { process: Builtins };
    process.getBuiltinModule("node:v8").setFlagsFromString("--expose-gc");
    return process.getBuiltinModule("node:vm").runInNewContext("gc");
  } catch {
    return null;
  }
}
