import type {
  RoutedChannel,
  Transport,
  TransportReceiver,
} from "../protocol/mod.ts";
import type { ClientChannel, ClientConnection } from "./client_connection.ts";

type Listener = (channel: ClientChannel, frames: readonly Uint8Array[]) => void;

interface Client {
  readonly identity: Uint8Array;
  listener: Listener | null;
}

/**
 * Carries frames between a kernel and its clients in one process: for tests and
 * for programs that run notebooks without sockets. Delivery is asynchronous and
 * in order. The example of {@linkcode Kernel} shows it at work.
 */
export class MemoryTransport implements Transport {
  readonly #clients = new Map<string, Client>();
  #receiver: TransportReceiver | null = null;
  #count = 0;

  open(receiver: TransportReceiver): Promise<void> {
    this.#receiver = receiver;
    for (const client of this.#clients.values()) this.#welcome(client);
    return Promise.resolve();
  }

  send(channel: RoutedChannel, frames: readonly Uint8Array[]): boolean {
    const [identity, ...rest] = frames;
    const client = this.#clients.get(String(identity));
    if (client === undefined) return false;
    this.#deliver(client, channel, rest);
    return true;
  }

  publish(frames: readonly Uint8Array[]): void {
    for (const client of this.#clients.values()) {
      this.#deliver(client, "iopub", frames);
    }
  }

  drained(): Promise<void> {
    return Promise.resolve();
  }

  flush(): Promise<void> {
    return Promise.resolve();
  }

  close(): Promise<void> {
    this.#receiver = null;
    this.#clients.clear();
    return Promise.resolve();
  }

  /** Connects a client to all channels; it subscribes to everything. */
  connect(): ClientConnection {
    const identity = new TextEncoder().encode(`client-${++this.#count}`);
    const client: Client = { identity, listener: null };
    this.#clients.set(String(identity), client);
    return {
      listen: (listener) => {
        client.listener = listener;
        if (this.#receiver !== null) this.#welcome(client);
      },
      send: (channel, frames) => {
        queueMicrotask(() =>
          this.#receiver?.receive(channel, [identity, ...frames])
        );
      },
      close: () => {
        this.#clients.delete(String(identity));
        return Promise.resolve();
      },
    };
  }

  #welcome(client: Client): void {
    if (client.listener === null) return;
    this.#receiver?.subscribed(
      "",
      (frames) => this.#deliver(client, "iopub", frames),
    );
  }

  #deliver(
    client: Client,
    channel: ClientChannel,
    frames: readonly Uint8Array[],
  ): void {
    queueMicrotask(() => client.listener?.(channel, frames));
  }
}
