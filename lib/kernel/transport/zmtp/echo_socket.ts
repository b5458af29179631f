import { ZmtpError } from "./frame.ts";
import type { Peer, PeerListener } from "./peer.ts";

/** Above this many bytes that it has not read, a client is disconnected. */
const CLOSE_ABOVE = 16 * 1024 * 1024;

/** Returns every message as it came: the heartbeat. */
export class EchoSocket implements PeerListener {
  opened(): void {}

  message(peer: Peer, frames: Uint8Array[]): void {
    if (peer.pendingBytes > CLOSE_ABOVE) {
      peer.close(new ZmtpError("it does not read its heartbeat"));
    } else peer.send(frames);
  }

  closed(): void {}
}
