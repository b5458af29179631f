import type { Handler } from "../handler.ts";
import { comm, commInfo } from "./comm.ts";
import { interrupt, shutdown } from "./control.ts";
import { execute } from "./execute.ts";
import { history } from "./history.ts";
import { connect, kernelInfo } from "./info.ts";
import { complete, inspect, isComplete } from "./language.ts";

/** Who serves what on shell, one at a time. */
export const SHELL_HANDLERS: ReadonlyMap<string, Handler> = new Map([
  ["execute_request", execute],
  ["kernel_info_request", kernelInfo],
  ["complete_request", complete],
  ["inspect_request", inspect],
  ["is_complete_request", isComplete],
  ["history_request", history],
  ["connect_request", connect],
  ["comm_info_request", commInfo],
  ["comm_open", comm],
  ["comm_msg", comm],
  ["comm_close", comm],
  ["shutdown_request", shutdown],
]);

/** Who serves what on control, while a cell computes. */
export const CONTROL_HANDLERS: ReadonlyMap<string, Handler> = new Map([
  ["interrupt_request", interrupt],
  ["shutdown_request", shutdown],
  ["kernel_info_request", kernelInfo],
]);
