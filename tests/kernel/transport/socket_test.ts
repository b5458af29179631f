import { describe, expect, it } from "vitest";
import {
  addressOf,
  type ConnectionInfo,
  SocketTransport,
} from "../../../lib/kernel/mod.ts";
import { encodeCommand } from "../../../lib/kernel/transport/zmtp/mod.ts";
import { connectSocket, freeConnection } from "./zmtp_client.ts";

const bytes = (text: string) => new TextEncoder().encode(text);
const texts = (frames: readonly Uint8Array[]) =>
  frames.map((frame) => new TextDecoder().decode(frame));
const delay = (time: number) => new Promise((done) => setTimeout(done, time));

interface Open extends AsyncDisposable {
  readonly info: ConnectionInfo;
  readonly transport: SocketTransport;
  readonly received: string[][];
  readonly topics: string[];
  readonly log: string[];
}

async function open(): Promise<Open> {
  const info = freeConnection("tcp");
  const log: string[] = [];
  const received: string[][] = [];
  const topics: string[] = [];
  const transport = new SocketTransport(info, (line) => log.push(line));
  await transport.bind();
  await transport.open({
    receive: (channel, frames) => {
      received.push([channel, ...texts(frames)]);
      return texts(frames).includes("signed");
    },
    subscribed: (topic, send) => {
      topics.push(topic);
      send([bytes(topic), bytes("welcome")]);
    },
  });
  return {
    info,
    transport,
    received,
    topics,
    log,
    [Symbol.asyncDispose]: () => transport.close(),
  };
}

async function until(condition: () => boolean): Promise<void> {
  // 20 s leave room for a busy machine; most waits take a few ms
  for (let n = 0; n < 4000 && !condition(); n++) await delay(5);
  if (!condition()) throw new Error("waited in vain");
}

/** Says a greeting by hand and gives what comes back. */
async function greet(info: ConnectionInfo, greeting: Uint8Array) {
  const conn = await Deno.connect({
    hostname: "127.0.0.1",
    port: info.shell_port,
  });
  await conn.write(greeting);
  return conn;
}

describe("a router socket", () => {
  it("sends to the peer that the identity names, and to no other", async () => {
    await using test = await open();
    const at = addressOf(test.info, test.info.shell_port);
    const got: string[] = [];
    const peers = await Promise.all(
      ["a", "b"].map((name) =>
        connectSocket(at, "DEALER", {
          identity: bytes(name),
          take: (frames) => got.push(`${name}:${texts(frames)}`),
        })
      ),
    );
    peers[1]?.peer.send([bytes("hello")]);
    await until(() => test.received.length === 1);
    expect(test.received[0]).toEqual(["shell", "b", "hello"]);
    expect(test.transport.send("shell", [bytes("b"), bytes("hi")])).toBe(true);
    expect(test.transport.send("shell", [bytes("c"), bytes("hi")])).toBe(false);
    expect(test.transport.send("stdin", [bytes("b"), bytes("hi")])).toBe(false);
    await until(() => got.length === 1);
    expect(got).toEqual(["b:hi"]);
    for (const { peer } of peers) peer.close();
  });

  it("hands over to a new peer with the same identity", async () => {
    await using test = await open();
    const at = addressOf(test.info, test.info.stdin_port);
    const identity = bytes("same");
    const first = await connectSocket(at, "DEALER", { identity });
    const got: string[][] = [];
    const second = await connectSocket(at, "DEALER", {
      identity,
      take: (frames) => got.push(texts(frames)),
    });
    await first.gone;
    expect(test.transport.send("stdin", [identity, bytes("hi")])).toBe(true);
    await until(() => got.length === 1);
    second.peer.close();
  });

  it("names peers that do not name themselves", async () => {
    await using test = await open();
    const at = addressOf(test.info, test.info.shell_port);
    const peers = await Promise.all(
      [1, 2].map(() => connectSocket(at, "DEALER")),
    );
    for (const { peer } of peers) peer.send([bytes("x")]);
    await until(() => test.received.length === 2);
    expect(test.received[0]?.[1]).not.toBe(test.received[1]?.[1]);
    for (const { peer } of peers) peer.close();
  });

  it("takes long messages of a peer only after one that was signed", async () => {
    await using test = await open();
    const at = addressOf(test.info, test.info.shell_port);
    // Many small parts of one message, each far below any limit of a frame.
    const parts = Array.from({ length: 17 }, () => new Uint8Array(2 ** 20));
    const stranger = await connectSocket(at, "DEALER");
    stranger.peer.send(parts);
    await stranger.gone;
    await until(() => test.log.some((line) => line.includes("the key")));
    expect(test.received).toEqual([]);
    const known = await connectSocket(at, "DEALER");
    known.peer.send([bytes("signed")]);
    await until(() => test.received.length === 1);
    known.peer.send(parts);
    await until(() => test.received.length === 2);
    known.peer.close();
  });

  it("keeps little of many peers that have not signed anything", async () => {
    await using test = await open();
    const at = addressOf(test.info, test.info.control_port);
    // A long frame of 200 MiB begins, and 15 MiB of it come.
    const half = new Uint8Array(9 + 15 * 2 ** 20);
    half[0] = 3;
    new DataView(half.buffer).setBigUint64(1, 200n * 2n ** 20n);
    const peers = await Promise.all(
      Array.from({ length: 6 }, () => connectSocket(at, "DEALER")),
    );
    for (const { peer } of peers) peer.sendBlocks([half]);
    // 64 MiB together: of six times 15 MiB two at least are too many.
    await until(() =>
      test.log.filter((line) => line.includes("are waiting")).length >= 2
    );
    for (const { peer } of peers) peer.close();
  });

  it("goes on when a peer vanishes in the middle of a message", async () => {
    await using test = await open();
    const at = addressOf(test.info, test.info.shell_port);
    const { peer } = await connectSocket(at, "DEALER");
    // A first part that promises more, then half of a long frame
    peer.sendBlocks([Uint8Array.of(1, 1, 65, 2, 0, 0, 0, 0, 0, 1, 0, 0, 1, 2)]);
    await delay(20);
    peer.close();
    const next = await connectSocket(at, "DEALER");
    next.peer.send([bytes("whole")]);
    await until(() => test.received.length === 1);
    expect(test.received[0]?.slice(2)).toEqual(["whole"]);
    next.peer.close();
  });

  it("refuses what is not ZMTP 3 with the NULL mechanism, and a wrong kind of socket", async () => {
    await using test = await open();
    const http = new Uint8Array(64);
    http.set(bytes("GET / HTTP/1.1\r\n"));
    const plain = new Uint8Array(64);
    plain.set([0xff, 0, 0, 0, 0, 0, 0, 0, 0, 0x7f, 3, 0, ...bytes("PLAIN")]);
    const old = plain.slice();
    old[10] = 1;
    for (const greeting of [http, plain, old]) {
      const conn = await greet(test.info, greeting);
      const reader = conn.readable.getReader();
      while (!(await reader.read()).done);
    }
    await connectSocket(addressOf(test.info, test.info.shell_port), "SUB")
      .catch(() => {});
    await until(() => test.log.length === 4);
    expect(test.log.join("\n")).toMatch(
      /does not speak ZMTP[^]*'PLAIN'[^]*speaks ZMTP 1[^]*'SUB' socket/,
    );
  });

  it("answers PING with PONG", async () => {
    await using test = await open();
    const conn = await Deno.connect({
      hostname: "127.0.0.1",
      port: test.info.shell_port,
    });
    const { encodeGreeting, encodeReady } = await import(
      "../../../lib/kernel/transport/zmtp/mod.ts"
    );
    await conn.write(encodeGreeting());
    await conn.write(encodeReady("DEALER", null));
    await conn.write(encodeCommand("PING", bytes("\x00\x10context")));
    let seen = "";
    const buffer = new Uint8Array(1000);
    while (!seen.includes("PONG")) {
      const count = await conn.read(buffer);
      seen += new TextDecoder().decode(buffer.subarray(0, count ?? 0));
    }
    expect(seen).toContain("\x04PONGcontext");
    conn.close();
  });
});

describe("the heartbeat", () => {
  it("returns frames as they came", async () => {
    await using test = await open();
    const at = addressOf(test.info, test.info.hb_port);
    const got: string[][] = [];
    const { peer } = await connectSocket(at, "REQ", {
      take: (frames) => got.push(texts(frames)),
    });
    peer.send([bytes(""), bytes("ping"), bytes("more")]);
    await until(() => got.length === 1);
    expect(got[0]).toEqual(["", "ping", "more"]);
    peer.close();
  });
});

describe("the publisher", () => {
  it("takes subscriptions by message and by command, and filters by prefix", async () => {
    await using test = await open();
    const at = addressOf(test.info, test.info.iopub_port);
    const got: Record<string, string[]> = { a: [], b: [] };
    const connect = async (name: string) =>
      (await connectSocket(at, "SUB", {
        take: (frames) => got[name]!.push(texts(frames).join(" ")),
      })).peer;
    const a = await connect("a");
    const b = await connect("b");
    a.send([bytes("\x01one")]);
    b.sendBlocks([encodeCommand("SUBSCRIBE", bytes("two"))]);
    b.sendBlocks([encodeCommand("SUBSCRIBE", bytes("three"))]);
    await until(() => test.topics.length === 3);
    test.transport.publish([bytes("one.x"), bytes("1")], false);
    test.transport.publish([bytes("two"), bytes("2")], false);
    test.transport.publish([bytes("tw"), bytes("none")], false);
    b.sendBlocks([encodeCommand("CANCEL", bytes("two"))]);
    a.send([bytes("\x00one")]);
    // What comes after a cancellation on the same connection proves it was read
    a.send([bytes("\x01end")]);
    b.sendBlocks([encodeCommand("SUBSCRIBE", bytes("end"))]);
    await until(() => test.topics.length === 5);
    test.transport.publish([bytes("one"), bytes("late")], false);
    test.transport.publish([bytes("two"), bytes("late")], false);
    test.transport.publish([bytes("three"), bytes("3")], false);
    await until(() => got["b"]?.length === 5 && got["a"]?.length === 3);
    expect(got["a"]).toEqual(["one welcome", "one.x 1", "end welcome"]);
    expect(got["b"]).toEqual([
      "two welcome",
      "three welcome",
      "two 2",
      "end welcome",
      "three 3",
    ]);
    a.close();
    b.close();
  });

  it("does not wait for a subscriber that does not read, and the others get all", async () => {
    await using test = await open();
    const at = addressOf(test.info, test.info.iopub_port);
    const { encodeGreeting, encodeReady } = await import(
      "../../../lib/kernel/transport/zmtp/mod.ts"
    );
    const stuck = await Deno.connect({
      hostname: "127.0.0.1",
      port: test.info.iopub_port,
    });
    await stuck.write(encodeGreeting());
    await stuck.write(encodeReady("SUB", null));
    await stuck.write(encodeCommand("SUBSCRIBE", bytes("")));
    let count = 0;
    const { peer } = await connectSocket(at, "SUB", { take: () => count++ });
    peer.sendBlocks([encodeCommand("SUBSCRIBE", bytes(""))]);
    await until(() => test.topics.length === 2);
    const block = new Uint8Array(1_000_000);
    for (let n = 0; n < 100; n++) {
      test.transport.publish([bytes("stream"), block], true);
      // The one that reads is given time, as drained() gives it; not the stuck
      if (n % 10 === 9) await until(() => count === n + 2);
    }
    // 64 MiB may wait for the stuck one; the rest is left out, and told once
    expect(test.log.filter((line) => /too slowly/.test(line))).toHaveLength(1);
    const start = performance.now();
    await test.transport.flush(100);
    // flush gives up after its 100 ms; 2 s leave room for a busy machine
    expect(performance.now() - start).toBeLessThan(2000);
    stuck.close();
    peer.close();
  });
});

describe("the five sockets", () => {
  it("take exactly the given ports, and say which one is taken", async () => {
    const info = freeConnection("tcp");
    const taken = Deno.listen({
      hostname: "127.0.0.1",
      port: info.stdin_port,
    });
    const transport = new SocketTransport(info, () => {});
    await expect(transport.bind()).rejects.toThrow(
      `Cannot listen on 127.0.0.1:${info.stdin_port}`,
    );
    taken.close();
    await transport.bind();
    await transport.close();
  });

  it("can be taken again at once, 20 times", async () => {
    const info = freeConnection("tcp");
    for (let n = 0; n < 20; n++) {
      const transport = new SocketTransport(info, () => {});
      await transport.bind();
      await transport.open({ receive: () => false, subscribed: () => {} });
      const { peer, gone } = await connectSocket(
        addressOf(info, info.shell_port),
        "DEALER",
      );
      await transport.close();
      await gone;
      peer.close();
    }
  });

  it("replace Unix sockets that a killed kernel left, and remove their own", async () => {
    if (Deno.build.os === "windows") return;
    const info = freeConnection("ipc");
    const left = `${info.ip}-${info.shell_port}`;
    await new Deno.Command(Deno.execPath(), {
      args: [
        "eval",
        `Deno.listen({ transport: "unix", path: ${
          JSON.stringify(left)
        } }); Deno.exit(0)`,
      ],
    }).output();
    expect(Deno.statSync(left).isSocket).toBe(true);
    const transport = new SocketTransport(info, () => {});
    await transport.bind();
    expect(Deno.statSync(left).mode! & 0o777).toBe(0o600);
    await transport.close();
    expect(() => Deno.statSync(left)).toThrow();
  });
});
