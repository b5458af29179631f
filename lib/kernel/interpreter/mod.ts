/**
 * Runs TypeScript cells in the present process: compiles them, keeps their
 * names from cell to cell, shows their values and errors. Knows nothing of
 * wires or processes.
 *
 * @module
 */
export {
  CellInterpreter,
  type CellInterpreterOptions,
} from "./cell_interpreter.ts";
export type { CellPort, CellRun } from "./cell_run.ts";
export { currentRun } from "./cell_run.ts";
export {
  type CellGlobal,
  type CellHook,
  cellHookSymbol,
  type DisplayOptions,
} from "./cell_globals.ts";
export type { CellOutcome } from "./failing_lines.ts";
export { Comm, CommDesk, type CommTarget } from "./comm_desk.ts";
export { cellNames, compileCell, type CompiledCell } from "./compile.ts";
export { topNames } from "./constants.ts";
export { completenessOf } from "./assist/mod.ts";
export type { RefusalHint } from "./error_form.ts";
export type { ValueViewer } from "./value_form.ts";
export {
  checkInterrupt,
  KeyboardInterrupt,
  setInterruptProbe,
} from "./interrupt.ts";
