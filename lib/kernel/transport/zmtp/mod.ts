/**
 * A small part of ZMTP 3.1: the NULL mechanism and the kinds of sockets that a
 * kernel and its tests need, over any stream of bytes.
 *
 * @module
 */
export { EchoSocket } from "./echo_socket.ts";
export { type Address, Endpoint } from "./endpoint.ts";
export {
  encodeCommand,
  encodeMultipart,
  type Frame,
  FrameDecoder,
  ZmtpError,
} from "./frame.ts";
export {
  encodeGreeting,
  encodeReady,
  GREETING_LENGTH,
  type SocketType,
} from "./handshake.ts";
export { type ByteStream, Peer, type PeerListener } from "./peer.ts";
export { PublisherSocket } from "./publisher_socket.ts";
export { RouterSocket } from "./router_socket.ts";
