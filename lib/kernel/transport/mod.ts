/**
 * How frames travel between a kernel and its clients: in one process, or over
 * the sockets that a connection file names.
 *
 * @module
 */
export type { ClientChannel, ClientConnection } from "./client_connection.ts";
export {
  type ConnectionInfo,
  parseConnectionFile,
  PORT_FIELDS,
} from "./connection_file.ts";
export {
  type Exchange,
  type ExecuteOptions,
  type InputHandler,
  KernelClient,
} from "./kernel_client.ts";
export { MemoryTransport } from "./memory_transport.ts";
export type { Address } from "./zmtp/mod.ts";
export { addressOf, SocketTransport } from "./socket_transport.ts";
