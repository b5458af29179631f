import type { ExecuteError } from "../protocol/interpreter.ts";
import { type CellRun, currentRun } from "./cell_run.ts";

/**
 * Reports rejections that nobody handles and throws in timers on the error
 * stream of the cell that started them; the session lives on.
 *
 * @param fallback The cell that gets what belongs to none.
 * @param form Makes the text of an error.
 */
export function installStrayErrors(
  fallback: () => CellRun | null,
  form: (error: unknown, run: CellRun) => ExecuteError,
): void {
  const report = (error: unknown, what: string) => {
    const run = currentRun() ?? fallback();
    if (!run) return;
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
      "A promise of this cell was rejected and not handled:",
    );
  });
  globalThis.addEventListener("error", (event) => {
    event.preventDefault();
    report(event.error, "An error was thrown outside of the cell's own run:");
  });
}
