import { type ByteStream, Peer, type PeerListener } from "./peer.ts";
import { ZmtpError } from "./frame.ts";
import type { SocketType } from "./handshake.ts";
import { Strangers } from "./strangers.ts";

/** Where a socket listens. */
export type Address =
  | { transport: "tcp"; hostname: string; port: number }
  | { transport: "unix"; path: string };

type Listener = Deno.Listener<Deno.TcpConn | Deno.UnixConn>;

async function listen(address: Address): Promise<Listener> {
  if (address.transport === "tcp") {
    const { hostname, port } = address;
    return Deno.listen({
      hostname: hostname === "*" ? "0.0.0.0" : hostname,
      port,
    });
  }
  const { path } = address;
  try {
    return Deno.listen({ transport: "unix", path });
  } catch (error) {
    if (!(error instanceof Deno.errors.AddrInUse)) throw error;
    // A path left by a kernel that was killed: nobody answers there
    const conn = await Deno.connect({ transport: "unix", path })
      .catch(() => null);
    if (conn !== null) {
      conn.close();
      throw error;
    }
    await Deno.remove(path);
    return Deno.listen({ transport: "unix", path });
  }
}

function describe(address: Address): string {
  return address.transport === "tcp"
    ? `${address.hostname}:${address.port}`
    : address.path;
}

/** Listens at one address and keeps the peers that connect. */
export class Endpoint {
  readonly #address: Address;
  readonly #type: SocketType;
  readonly #listener: PeerListener;
  readonly #log: (text: string) => void;
  readonly #peers = new Set<Peer>();
  readonly #strangers = new Strangers();
  #listening: Listener | null = null;

  /**
   * @param address Where to listen.
   * @param type Kind of our socket.
   * @param listener Takes what peers send.
   * @param log Takes lines for the person who runs the server.
   */
  constructor(
    address: Address,
    type: SocketType,
    listener: PeerListener,
    log: (text: string) => void,
  ) {
    this.#address = address;
    this.#type = type;
    this.#listener = listener;
    this.#log = log;
  }

  /**
   * Takes the address.
   *
   * @throws {Error} If it cannot be taken.
   */
  async open(): Promise<void> {
    try {
      this.#listening = await listen(this.#address);
    } catch (error) {
      throw new Error(
        `Cannot listen on ${describe(this.#address)}: ${
          (error as Error).message
        }. Start the kernel with another connection file`,
        { cause: error },
      );
    }
    if (this.#address.transport === "unix" && Deno.build.os !== "windows") {
      await Deno.chmod(this.#address.path, 0o600);
    }
  }

  /** Begins to take peers. */
  start(): void {
    if (this.#listening !== null) void this.#accept(this.#listening);
  }

  /** Ends all peers and frees the address. */
  async close(): Promise<void> {
    this.#listening?.close();
    this.#listening = null;
    for (const peer of this.#peers) peer.close();
    if (this.#address.transport === "unix") {
      await Deno.remove(this.#address.path).catch(() => {});
    }
  }

  async #accept(listening: Listener): Promise<void> {
    while (this.#listening === listening) {
      let conn: Deno.TcpConn | Deno.UnixConn;
      try {
        conn = await listening.accept();
      } catch (error) {
        if (this.#listening !== listening) return;
        this.#log(`Cannot take a connection: ${(error as Error).message}`);
        await new Promise((resolve) => setTimeout(resolve, 50));
        continue;
      }
      if ("setNoDelay" in conn) conn.setNoDelay(true);
      this.#serve(conn);
    }
  }

  #serve(stream: ByteStream): void {
    const peer = new Peer(stream, this.#type, {
      opened: (peer) => this.#listener.opened(peer),
      message: (peer, frames) => this.#listener.message(peer, frames),
      command: (peer, name, data) => this.#listener.command?.(peer, name, data),
      closed: (peer, error) => {
        this.#peers.delete(peer);
        this.#listener.closed(peer, error);
        if (error instanceof ZmtpError) {
          this.#log(`A client is gone: ${error.message}`);
        }
      },
    }, this.#strangers);
    this.#peers.add(peer);
    void peer.run();
  }
}
