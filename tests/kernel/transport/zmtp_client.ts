import {
  addressOf,
  type ClientChannel,
  type ClientConnection,
  type ConnectionInfo,
  PORT_FIELDS,
} from "../../../lib/kernel/mod.ts";
import {
  type Address,
  encodeCommand,
  Peer,
  type SocketType,
} from "../../../lib/kernel/transport/zmtp/mod.ts";

/** Free ports, or path suffixes, for a kernel under test. */
export function freeConnection(
  transport: "tcp" | "ipc",
  key = "a key of tests",
): ConnectionInfo {
  const listeners = PORT_FIELDS.map(() =>
    Deno.listen({ hostname: "127.0.0.1", port: 0 })
  );
  const ports = listeners.map((listener) => listener.addr.port);
  for (const listener of listeners) listener.close();
  return {
    transport,
    ip: transport === "tcp"
      ? "127.0.0.1"
      : `${Deno.makeTempDirSync({ prefix: "fringebook-" })}/socket`,
    key,
    signature_scheme: "hmac-sha256",
    ...Object.fromEntries(
      PORT_FIELDS.map((field, index) => [field, ports[index]]),
    ),
  } as ConnectionInfo;
}

function dial(
  address: Address,
): Promise<Deno.Conn> {
  return address.transport === "tcp"
    ? Deno.connect({ hostname: address.hostname, port: address.port })
    : Deno.connect({ transport: "unix", path: address.path });
}

/** One client socket, connected and past its handshake. */
export async function connectSocket(
  address: Address,
  type: SocketType,
  options: {
    identity?: Uint8Array | null;
    take?: (frames: Uint8Array[]) => void;
  } = {},
): Promise<{ peer: Peer; gone: Promise<Error | null> }> {
  const { identity = null, take = () => {} } = options;
  const opened = Promise.withResolvers<void>();
  const gone = Promise.withResolvers<Error | null>();
  const peer = new Peer(await dial(address), type, {
    opened: () => opened.resolve(),
    message: (_peer, frames) => take(frames),
    closed: (_peer, error) => {
      gone.resolve(error);
      opened.reject(error ?? new Error("closed"));
    },
  });
  // The tests trust the kernel that they started.
  peer.trust();
  opened.promise.catch(() => {});
  void peer.run(identity);
  await opened.promise;
  return { peer, gone: gone.promise };
}

/** A client over sockets: DEALERs that share an identity, and a SUB. */
export async function connectClient(
  info: ConnectionInfo,
): Promise<ClientConnection & { beat(): Promise<void> }> {
  let listener: (channel: ClientChannel, frames: Uint8Array[]) => void =
    () => {};
  const identity = new TextEncoder().encode(crypto.randomUUID());
  const dealer = (channel: ClientChannel, port: number) =>
    connectSocket(addressOf(info, port), "DEALER", {
      identity,
      take: (frames) => listener(channel, frames),
    });
  const welcome = Promise.withResolvers<void>();
  const sockets = {
    shell: (await dealer("shell", info.shell_port)).peer,
    control: (await dealer("control", info.control_port)).peer,
    stdin: (await dealer("stdin", info.stdin_port)).peer,
  };
  const early: Uint8Array[][] = [];
  let listening = false;
  const iopub = (await connectSocket(addressOf(info, info.iopub_port), "SUB", {
    take: (frames) => {
      welcome.resolve();
      if (listening) listener("iopub", frames);
      else early.push(frames);
    },
  })).peer;
  iopub.sendBlocks([encodeCommand("SUBSCRIBE", new Uint8Array(0))]);
  await welcome.promise;
  let beat = () => {};
  const heart = (await connectSocket(addressOf(info, info.hb_port), "REQ", {
    take: () => beat(),
  })).peer;
  return {
    listen(take) {
      listener = take;
      queueMicrotask(() => {
        listening = true;
        for (const frames of early.splice(0)) take("iopub", frames);
      });
    },
    send: (channel, frames) => sockets[channel].send(frames),
    beat: () =>
      new Promise((resolve) => {
        beat = resolve;
        heart.send([new Uint8Array(0), new TextEncoder().encode("ping")]);
      }),
    close() {
      for (const peer of [...Object.values(sockets), iopub, heart]) {
        peer.close();
      }
      return Promise.resolve();
    },
  };
}
