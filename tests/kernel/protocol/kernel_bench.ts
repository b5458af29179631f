import {
  decodeMessage,
  encodeMessage,
  HeaderFactory,
  Kernel,
  KernelClient,
  MemoryTransport,
  Signer,
} from "../../../lib/kernel/mod.ts";
import { connectClient, freeConnection } from "../transport/zmtp_client.ts";
import { SocketTransport } from "../../../lib/kernel/mod.ts";
import { createEchoInterpreter } from "./echo_interpreter.ts";

const signer = new Signer("a key");
const headers = new HeaderFactory("bench");
const frames = encodeMessage({
  header: headers.create("execute_request"),
  parentHeader: null,
  metadata: {},
  content: { code: "1 + 1", silent: false },
  buffers: [],
}, signer);

Deno.bench("encode and sign a message", () => {
  encodeMessage({
    header: headers.create("stream"),
    parentHeader: null,
    metadata: {},
    content: { name: "stdout", text: "a line of text\n" },
    buffers: [],
  }, signer);
});

Deno.bench("verify and decode a message", () => {
  decodeMessage(frames, signer);
});

const memory = new MemoryTransport();
await new Kernel(createEchoInterpreter(), memory, { key: "a key" }).start();
const near = new KernelClient(memory.connect(), { key: "a key" });

Deno.bench("round trip of a cell in memory", async () => {
  await near.execute("1");
});

const info = freeConnection("tcp", "a key");
const sockets = new SocketTransport(info);
await sockets.bind();
await new Kernel(createEchoInterpreter(), sockets, { key: "a key" }).start();
const far = new KernelClient(await connectClient(info), { key: "a key" });

Deno.bench(
  "round trip of a cell over TCP, client in the same process",
  async () => {
    await far.execute("1");
  },
);
