import {
  type Log,
  logToStderr,
  type RoutedChannel,
  type Transport,
  type TransportReceiver,
} from "../protocol/mod.ts";
import type { ConnectionInfo } from "./connection_file.ts";
import {
  type Address,
  EchoSocket,
  Endpoint,
  PublisherSocket,
  RouterSocket,
} from "./zmtp/mod.ts";

/** Where the socket of a port in a connection file listens. */
export function addressOf(info: ConnectionInfo, port: number): Address {
  return info.transport === "tcp"
    ? { transport: "tcp", hostname: info.ip, port }
    : { transport: "unix", path: `${info.ip}-${port}` };
}

/** The five sockets of a kernel, over TCP or Unix sockets. */
export class SocketTransport implements Transport {
  readonly #routers: Readonly<Record<RoutedChannel, RouterSocket>>;
  readonly #publisher: PublisherSocket;
  readonly #endpoints: readonly Endpoint[];
  #receiver: TransportReceiver | null = null;

  /**
   * Sockets of a connection file; nothing listens before they are bound.
   *
   * @param info The connection file.
   * @param log Takes lines for the person who runs the server.
   */
  constructor(info: ConnectionInfo, log: Log = logToStderr) {
    const router = (channel: RoutedChannel) =>
      new RouterSocket((frames) =>
        this.#receiver?.receive(channel, frames) ?? false
      );
    this.#routers = {
      shell: router("shell"),
      control: router("control"),
      stdin: router("stdin"),
    };
    this.#publisher = new PublisherSocket((topic, peer) => {
      this.#receiver?.subscribed(
        new TextDecoder().decode(topic),
        (frames) => peer.send(frames),
      );
    }, log);
    const { shell, control, stdin } = this.#routers;
    const at = (port: number) => addressOf(info, port);
    this.#endpoints = [
      new Endpoint(at(info.hb_port), "REP", new EchoSocket(), log),
      new Endpoint(at(info.iopub_port), "XPUB", this.#publisher, log),
      new Endpoint(at(info.control_port), "ROUTER", control, log),
      new Endpoint(at(info.stdin_port), "ROUTER", stdin, log),
      new Endpoint(at(info.shell_port), "ROUTER", shell, log),
    ];
  }

  /**
   * Takes all five addresses; clients that connect wait until `open`.
   *
   * @throws {Error} If one cannot be taken; then none is.
   */
  async bind(): Promise<void> {
    try {
      for (const endpoint of this.#endpoints) await endpoint.open();
    } catch (error) {
      await this.close();
      throw error;
    }
  }

  open(receiver: TransportReceiver): Promise<void> {
    this.#receiver = receiver;
    for (const endpoint of this.#endpoints) endpoint.start();
    return Promise.resolve();
  }

  send(channel: RoutedChannel, frames: readonly Uint8Array[]): boolean {
    return this.#routers[channel].send(frames);
  }

  publish(frames: readonly Uint8Array[], droppable: boolean): void {
    this.#publisher.publish(frames, droppable);
  }

  drained(): Promise<void> {
    return this.#publisher.drained();
  }

  async flush(milliseconds: number): Promise<void> {
    let timer: ReturnType<typeof setTimeout> | undefined;
    await Promise.race([
      Promise.all([
        this.#publisher.flush(),
        ...Object.values(this.#routers).map((router) => router.flush()),
      ]),
      new Promise((resolve) => timer = setTimeout(resolve, milliseconds)),
    ]);
    clearTimeout(timer);
  }

  async close(): Promise<void> {
    for (const endpoint of this.#endpoints) await endpoint.close();
  }
}
