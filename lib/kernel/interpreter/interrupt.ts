import { currentRun } from "./cell_run.ts";
import { noteAwait } from "./positions.ts";

/** Thrown inside a cell that the person stopped. */
export class KeyboardInterrupt extends Error {
  override readonly name = "KeyboardInterrupt";

  constructor() {
    super("The cell was interrupted");
  }
}

/** Whether the cell that computes now should stop; asked often, so be quick. */
export type InterruptProbe = () => boolean;

let probe: InterruptProbe = () => false;

/** Sets where the wish to interrupt is read, such as shared memory. */
export function setInterruptProbe(next: InterruptProbe): void {
  probe = next;
}

/**
 * Throws where an interrupt is asked for. Called by compiled cells each 1024
 * turns and by the checkpoints of long computations.
 */
export function checkInterrupt(): void {
  if (probe()) throw new KeyboardInterrupt();
}

/**
 * Wraps a value that a cell awaits: rejects when the cell is interrupted.
 *
 * @param value What is awaited.
 * @param place Number of the cell, line and column of the `await`.
 * @returns What to await instead.
 */
export function interruptible(
  value: unknown,
  ...place: [ordinal: number, line: number, column: number]
): unknown {
  if (!isThenable(value)) return value;
  const run = currentRun();
  return new Promise((resolve, reject) => {
    const fail = (reason: unknown) => {
      run?.waiting.delete(fail);
      noteAwait(reason, place);
      reject(reason);
    };
    run?.waiting.add(fail);
    Promise.resolve(value).then((settled) => {
      run?.waiting.delete(fail);
      resolve(settled);
    }, fail);
  });
}

/** Wraps what a cell iterates with `for await`. */
export async function* interruptibleItems(
  items: AsyncIterable<unknown> | Iterable<unknown>,
  ...place: [ordinal: number, line: number, column: number]
): AsyncGenerator<unknown> {
  const iterator = Symbol.asyncIterator in items
    ? items[Symbol.asyncIterator]()
    : items[Symbol.iterator]();
  let finished = false;
  try {
    for (;;) {
      const step = await interruptible(
        iterator.next(),
        ...place,
      ) as IteratorResult<unknown>;
      if (step.done) {
        finished = true;
        return;
      }
      yield await interruptible(step.value, ...place);
    }
  } finally {
    // Not awaited: a generator that hangs must not hold up the interrupt.
    if (!finished) void Promise.resolve(iterator.return?.()).catch(() => {});
  }
}

function isThenable(value: unknown): value is PromiseLike<unknown> {
  return (typeof value === "object" || typeof value === "function") &&
    value !== null &&
    typeof (value as { then?: unknown }).then === "function";
}
