import type { Peer, PeerListener } from "./peer.ts";

/** Returns every message as it came: the heartbeat. */
export class EchoSocket implements PeerListener {
  opened(): void {}

  message(peer: Peer, frames: Uint8Array[]): void {
    peer.send(frames);
  }

  closed(): void {}
}
