import type { ExecuteOutcome } from "../protocol/mod.ts";

/** A cell that was interrupted before it ran. */
export const stoppedOutcome: ExecuteOutcome = {
  status: "error",
  sessionLost: false,
  ename: "KeyboardInterrupt",
  evalue: "The cell was interrupted before its session had started",
  traceback: ["KeyboardInterrupt: The cell was interrupted before it ran"],
};

/** A cell whose session could not be started. */
export function failedStart(error: unknown): ExecuteOutcome {
  const evalue = error instanceof Error ? error.message : String(error);
  return {
    status: "error",
    sessionLost: true,
    ename: "SessionStart",
    evalue,
    traceback: [`SessionStart: ${evalue}`],
  };
}
