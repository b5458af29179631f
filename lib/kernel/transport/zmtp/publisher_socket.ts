import { encodeMultipart, ZmtpError } from "./frame.ts";
import type { Peer, PeerListener } from "./peer.ts";

/** Up to this many bytes waiting, a subscriber counts as keeping up. */
const KEEPING_UP = 1024 * 1024;
/** A subscriber is waited for up to this many ms until it keeps up again. */
const PATIENCE = 3000;
/** Above this many bytes waiting, droppable messages are left out. */
const DROP_ABOVE = 64 * 1024 * 1024;
/** Above this many bytes waiting, the subscriber is disconnected. */
const CLOSE_ABOVE = 512 * 1024 * 1024;
/** Subscriptions of one subscriber at most, and bytes of one. */
const MOST_TOPICS = 100;
const LONGEST_TOPIC = 1000;

interface Subscriber {
  readonly topics: Map<string, Uint8Array>;
  /** Whether it was waited for in vain. */
  isSlow: boolean;
  dropped: number;
}

function startsWith(bytes: Uint8Array, prefix: Uint8Array): boolean {
  return prefix.length <= bytes.length &&
    prefix.every((byte, index) => byte === bytes[index]);
}

/** Sends each message to all whose subscription begins its topic. */
export class PublisherSocket implements PeerListener {
  readonly #subscribed: (topic: Uint8Array, peer: Peer) => void;
  readonly #log: (text: string) => void;
  readonly #subscribers = new Map<Peer, Subscriber>();

  /**
   * @param subscribed Told of each new subscription.
   * @param log Takes lines for the person who runs the server.
   */
  constructor(
    subscribed: (topic: Uint8Array, peer: Peer) => void,
    log: (text: string) => void,
  ) {
    this.#subscribed = subscribed;
    this.#log = log;
  }

  /** Sends without waiting; the first frame is the topic. */
  publish(frames: readonly Uint8Array[], droppable: boolean): void {
    const topic = frames[0]!;
    let blocks: Uint8Array[] | null = null;
    for (const [peer, subscriber] of this.#subscribers) {
      const { topics } = subscriber;
      if (!topics.values().some((prefix) => startsWith(topic, prefix))) {
        continue;
      }
      if (peer.pendingBytes > CLOSE_ABOVE) {
        peer.close(new ZmtpError("it reads too slowly"));
      } else if (droppable && peer.pendingBytes > DROP_ABOVE) {
        if (subscriber.dropped++ === 0) {
          this.#log("A client reads too slowly: outputs are left out for it");
        }
      } else {
        blocks ??= encodeMultipart(frames);
        peer.sendBlocks(blocks);
      }
    }
  }

  /** Resolves when all keep up; slow ones are waited for only so long. */
  async drained(): Promise<void> {
    for (const [peer, subscriber] of this.#subscribers) {
      if (peer.pendingBytes <= KEEPING_UP) {
        subscriber.isSlow = false;
      } else if (!subscriber.isSlow) {
        let timer: ReturnType<typeof setTimeout> | undefined;
        const late = new Promise<void>((resolve) => {
          timer = setTimeout(() => {
            subscriber.isSlow = true;
            resolve();
          }, PATIENCE);
        });
        await Promise.race([peer.below(KEEPING_UP), late]);
        clearTimeout(timer);
      }
    }
  }

  /** Resolves when everything has left. */
  async flush(): Promise<void> {
    await Promise.all(
      [...this.#subscribers.keys()].map((peer) => peer.below(0)),
    );
  }

  opened(peer: Peer): void {
    this.#subscribers.set(peer, {
      topics: new Map(),
      isSlow: false,
      dropped: 0,
    });
  }

  /** Subscriptions of ZMTP 3.0 peers come as messages. */
  message(peer: Peer, frames: Uint8Array[]): void {
    const [body] = frames;
    if (body === undefined || frames.length !== 1) return;
    if (body[0] === 1) this.#subscribe(peer, body.slice(1));
    else if (body[0] === 0) this.#cancel(peer, body.slice(1));
  }

  /** Subscriptions of ZMTP 3.1 peers come as commands. */
  command(peer: Peer, name: string, data: Uint8Array): void {
    if (name === "SUBSCRIBE") this.#subscribe(peer, data.slice());
    else if (name === "CANCEL") this.#cancel(peer, data);
  }

  closed(peer: Peer): void {
    this.#subscribers.delete(peer);
  }

  #subscribe(peer: Peer, topic: Uint8Array): void {
    const topics = this.#subscribers.get(peer)?.topics;
    if (topics === undefined) return;
    if (topic.length > LONGEST_TOPIC || topics.size >= MOST_TOPICS) {
      peer.close(new ZmtpError("it subscribes to more than a client needs"));
      return;
    }
    topics.set(String(topic), topic);
    this.#subscribed(topic, peer);
  }

  #cancel(peer: Peer, topic: Uint8Array): void {
    if (topic.length > LONGEST_TOPIC) return;
    this.#subscribers.get(peer)?.topics.delete(String(topic));
  }
}
