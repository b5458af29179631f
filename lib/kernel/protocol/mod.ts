/**
 * The protocol core of the kernel: messages, their signing, their order, and
 * the seams to a transport and to an interpreter. Knows no sockets and no
 * language.
 *
 * @module
 */
export { wireBundle } from "./bundle.ts";
export { decodeMessage, encodeMessage, MessageRefusedError } from "./codec.ts";
export { codePointCount } from "./content.ts";
export type { KernelOptions } from "./handler.ts";
export {
  type HistoryEntry,
  type HistoryStore,
  MemoryHistory,
} from "./history.ts";
export { FileHistory } from "./history_files.ts";
export { findHistory, type HistoryQuery } from "./history_query.ts";
export {
  EndOfInputError,
  InputNotAllowedError,
  InterruptedError,
} from "./input_errors.ts";
export type * from "./interpreter.ts";
export { Kernel } from "./kernel.ts";
export { type Log, logToStderr } from "./log.ts";
export {
  type Header,
  HeaderFactory,
  type IncomingMessage,
  type JsonObject,
  type OutgoingMessage,
  PROTOCOL_VERSION,
} from "./message.ts";
export { ReplayGuard } from "./replay_guard.ts";
export { Signer } from "./signature.ts";
export type {
  RoutedChannel,
  Transport,
  TransportReceiver,
} from "./transport.ts";
