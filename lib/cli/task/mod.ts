/**
 * What all tasks of `deno.json` share: flags, help, and errors in words.
 *
 * @module
 */
export {
  asInTemplate,
  type Flag,
  type FlagDifference,
  flagOf,
  type FlagSpec,
  type FlagValues,
  loneFlag,
  manyFlag,
  numberFlags,
  textFlag,
  textFlags,
} from "./flag.ts";
export {
  asUsage,
  needed,
  type ReadArguments,
  readFlags,
} from "./read_flags.ts";
export { flagHelp, inColumns } from "./flag_help.ts";
export { errorInWords, performTask, runTask, type Task } from "./run_task.ts";
export { UsageError } from "./usage_error.ts";
