import type { ExecuteError } from "../protocol/interpreter.ts";
import { type CellRun, currentRun } from "./cell_run.ts";
import { KeyboardInterrupt } from "./interrupt.ts";
import { framesOf } from "./stack.ts";

/**
 * Reports rejections that nobody handles and throws in timers on the error
 * stream of the cell that started them; the session lives on.
 *
 * @param fallback The cell that gets what belongs to none.
 * @param runOf Finds the run of a number.
 * @param form Makes the text of an error.
 */
export function installStrayErrors(
  fallback: () => CellRun | null,
  runOf: (ordinal: number) => CellRun | null,
  form: (error: unknown, run: CellRun) => ExecuteError,
): void {
  const report = (error: unknown, owner: CellRun | null, what: string) => {
    const run = owner ?? fallback();
    // What was stopped along with an interrupted cell need not be told.
    if (!run || error instanceof KeyboardInterrupt) return;
    const { traceback } = form(error, run);
    run.port.publish({
      type: "stream",
      name: "stderr",
      text: `${what}\n${traceback.join("\n")}\n`,
    });
  };
  globalThis.addEventListener("unhandledrejection", (event) => {
    event.preventDefault();
    report(
      event.reason,
      currentRun() ?? null,
      "A promise of this cell was rejected and not handled:",
    );
  });
  globalThis.addEventListener("error", (event) => {
    event.preventDefault();
    // Here the runtime does not restore whose work it was; the stack tells.
    const ordinal = framesOf(event.error).findLast(({ cell }) => cell)?.cell
      ?.ordinal;
    const owner = ordinal === undefined ? null : runOf(ordinal);
    report(
      event.error,
      owner,
      "An error was thrown outside of the cell's own run:",
    );
  });
}
