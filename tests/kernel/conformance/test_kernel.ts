import {
  type ClientConnection,
  type HistoryStore,
  type Interpreter,
  Kernel,
  MemoryTransport,
  SocketTransport,
} from "../../../lib/kernel/mod.ts";
import { createWordInterpreter } from "../protocol/word_interpreter.ts";
import { connectClient, freeConnection } from "../transport/zmtp_client.ts";
import { CheckedClient } from "./checked_client.ts";

/** How messages travel in a test. */
export type TransportName = "memory" | "tcp" | "ipc";

/** A kernel under test with a client; lines of its log are kept. */
export interface TestKernel extends AsyncDisposable {
  readonly kernel: Kernel;
  readonly client: CheckedClient;
  readonly log: string[];
  /** A further client. */
  connect(): Promise<CheckedClient>;
  /** A client's end of the transport, to send what no client would. */
  connectRaw(): Promise<ClientConnection>;
}

/** The key that test kernels sign with. */
export const TEST_KEY = "a key of tests";

/** Starts a kernel and connects a client; disposing it checks for faults. */
export async function startTestKernel(
  options: {
    transport?: TransportName;
    interpreter?: Interpreter;
    history?: HistoryStore;
    settleTime?: number;
  } = {},
): Promise<TestKernel> {
  const {
    transport: name = "memory",
    interpreter = createWordInterpreter(),
    history,
    settleTime = 20,
  } = options;
  const log: string[] = [];
  const tell = (line: string) => void log.push(line);
  const info = freeConnection(name === "ipc" ? "ipc" : "tcp", TEST_KEY);
  const memory = name === "memory" ? new MemoryTransport() : null;
  const sockets = memory === null ? new SocketTransport(info, tell) : null;
  await sockets?.bind();
  const kernel = new Kernel(interpreter, memory ?? sockets!, {
    key: TEST_KEY,
    log: tell,
    settleTime,
    ...(history !== undefined && { history }),
  });
  await kernel.start();
  const clients: CheckedClient[] = [];
  const raw: ClientConnection[] = [];
  const connectRaw = async () => {
    const connection = memory?.connect() ?? await connectClient(info);
    raw.push(connection);
    return connection;
  };
  const connect = async () => {
    const client = new CheckedClient(await connectRaw(), TEST_KEY);
    clients.push(client);
    return client;
  };
  return {
    kernel,
    log,
    client: await connect(),
    connect,
    connectRaw,
    async [Symbol.asyncDispose]() {
      for (const connection of raw) await connection.close();
      await kernel.close();
      const faults = clients.flatMap((client) => client.faults);
      if (faults.length > 0) throw new Error(faults.join("\n"));
    },
  };
}
