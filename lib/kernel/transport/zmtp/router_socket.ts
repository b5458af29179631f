import type { Peer, PeerListener } from "./peer.ts";

/** Sends each message to the peer that the first frame names. */
export class RouterSocket implements PeerListener {
  readonly #receive: (frames: Uint8Array[]) => boolean;
  readonly #peers = new Map<string, Peer>();
  readonly #names = new Map<Peer, Uint8Array>();
  #count = 0;

  /**
   * @param receive Takes a message, the sender's identity first; returns whether
   * its sender has shown the key.
   */
  constructor(receive: (frames: Uint8Array[]) => boolean) {
    this.#receive = receive;
  }

  /** Sends; false where no such peer is connected. */
  send(frames: readonly Uint8Array[]): boolean {
    const [identity, ...rest] = frames;
    const peer = this.#peers.get(String(identity));
    peer?.send(rest);
    return peer !== undefined;
  }

  /** Resolves when everything has left. */
  async flush(): Promise<void> {
    await Promise.all([...this.#peers.values()].map((peer) => peer.below(0)));
  }

  opened(peer: Peer): void {
    const identity = peer.identity ?? this.#freshIdentity();
    const key = String(identity);
    const before = this.#peers.get(key);
    // A client that comes back takes over from its old connection
    this.#peers.set(key, peer);
    this.#names.set(peer, identity);
    before?.close();
  }

  message(peer: Peer, frames: Uint8Array[]): void {
    const identity = this.#names.get(peer);
    if (identity === undefined) return;
    if (this.#receive([identity, ...frames])) peer.trust();
  }

  closed(peer: Peer): void {
    const key = String(this.#names.get(peer));
    this.#names.delete(peer);
    if (this.#peers.get(key) === peer) this.#peers.delete(key);
  }

  /** Identities of our own begin with a zero byte, which peers may not use. */
  #freshIdentity(): Uint8Array {
    const identity = new Uint8Array(5);
    new DataView(identity.buffer).setUint32(1, ++this.#count);
    return identity;
  }
}
