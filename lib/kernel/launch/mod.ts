/**
 * The kernel as a process: command line, signals, the parent's death.
 *
 * @module
 */
export {
  isGrant,
  type KernelArguments,
  parseKernelArguments,
  parseMemoryLimit,
} from "./arguments.ts";
export { grantsOfFlags } from "./grants_of_flags.ts";
export { historyFolder } from "./history_folder.ts";
export { type InterpreterFactory, runKernel } from "./run_kernel.ts";
export { watchParent } from "./watch_parent.ts";
