import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { TestSession } from "./harness.ts";
import {
  encodeFrame,
  FrameReader,
  TextFrames,
} from "../../../lib/kernel/session/frames.ts";

describe("outputs of a session", () => {
  let session: TestSession;

  beforeAll(async () => {
    session = await TestSession.create();
  });
  afterAll(() => session.close());

  it("join text of one stream, and keep the order", async () => {
    const { outputs } = await session.run(
      "for (let i = 0; i < 2000; i++) console.log(i); console.error('e'); console.log('last')",
    );
    // 2000 lines in at most ten messages: the bar of the kernel's protocol.
    expect(outputs.length).toBeLessThanOrEqual(12);
    const streams = outputs.map((output) =>
      output.type === "stream" ? output.name : output.type
    );
    expect(streams.at(-1)).toBe("stdout");
    expect(streams.at(-2)).toBe("stderr");
  });

  it("carry a result of 20 MB that shows itself, and both ends of a long plain one", async () => {
    const { value } = await session.run(
      "({ [Symbol.for('Jupyter.display')]: () => ({ 'text/plain': 'x'.repeat(20e6) }) })",
    );
    expect(value?.length).toBe(20e6);
    const long = await session.run("'x'.repeat(20e6)");
    expect(long.value?.length).toBeLessThan(101_000);
    expect(long.value).toContain("of 20000002 characters left out");
  });

  it("of many lines wait for a slow reader, so that memory stays bounded", async () => {
    let open = () => {};
    const gate = new Promise<void>((resolve) => open = resolve);
    let bytes = 0;
    const running = session.run(
      "for (let i = 0; i < 3e5; i++) console.log(`line ${i}`)",
      {
        publish: (output) =>
          bytes += output.type === "stream" ? output.text.length : 0,
        ready: () => gate,
      },
    );
    await new Promise((resolve) => setTimeout(resolve, 500));
    // One message has come; the cell waits in the middle of its loop.
    expect(bytes).toBeGreaterThan(0);
    expect(bytes).toBeLessThan(1e6);
    open();
    expect((await running).error).toBe("");
    // "line " and a newline, and the digits of 0 to 299 999.
    expect(bytes).toBe(6 * 3e5 + 1688890);
  });

  it("of work that goes on belong to its request after its end", async () => {
    await session.run("setTimeout(() => console.log('late'), 100); 0");
    const request = [...session.outputs.keys()].at(-1)!;
    await session.run("await new Promise((r) => setTimeout(r, 250))");
    expect(session.outputs.get(request)).toEqual([
      { type: "stream", name: "stdout", text: "late\n" },
    ]);
  });

  it("take what packages write past the session", async () => {
    const { text, value } = await session.run(
      "import { writeSync } from 'node:fs'; import process from 'node:process'; writeSync(1, 'past ü '); process.stdout.write('again\\n'); console.log('then'); 5",
    );
    expect(value).toBe("5");
    expect(text).toBe("past ü again\nthen\n");
  });

  it("take bytes, large integers and strange numbers in bundles", async () => {
    const { outputs } = await session.run(
      "await cell.display({ 'application/json': { a: 10n, b: NaN }, 'text/plain': 'x' }, { raw: true })",
    );
    expect(outputs).toEqual([{
      type: "display_data",
      data: { "application/json": { a: "10", b: null }, "text/plain": "x" },
      metadata: {},
      displayId: null,
    }]);
  });

  it("hold comms in both directions, with bytes", async () => {
    await session.run(
      "cell.comms.register('echo', (comm) => { comm.onMessage = (m) => comm.send(m.data, { buffers: m.buffers }) })",
    );
    const outputs: unknown[] = [];
    const context = {
      requestId: "comm",
      publish: (output: unknown) => void outputs.push(output),
      requestInput: () => Promise.resolve(""),
      ready: () => Promise.resolve(),
    };
    const message = {
      commId: "1",
      targetName: "echo",
      data: {},
      metadata: {},
      buffers: [],
    };
    const { session: target } = session;
    expect(await target.comm({ ...message, type: "comm_open" }, context)).toBe(
      true,
    );
    expect(target.comms()).toEqual(new Map([["1", "echo"]]));
    await target.comm({
      ...message,
      type: "comm_msg",
      data: { n: 1 },
      buffers: [new Uint8Array([1, 2, 3])],
    }, context);
    expect(outputs).toEqual([{
      type: "comm_msg",
      commId: "1",
      targetName: null,
      data: { n: 1 },
      metadata: {},
      buffers: [new Uint8Array([1, 2, 3])],
    }]);
    expect(
      await target.comm({
        ...message,
        type: "comm_open",
        commId: "2",
        targetName: "none",
      }, context),
    ).toBe(false);
  });

  it("ask for input, at once or later, and say where nobody can answer", async () => {
    expect((await session.run("prompt('a') + await input('b')")).value).toBe(
      '"typedtyped"',
    );
    const refuse = {
      requestInput: () => Promise.reject(new Error("nobody is there")),
    };
    expect((await session.run("prompt('a')", refuse)).error).toContain(
      "nobody is there",
    );
    expect((await session.run("await input('a')", refuse)).error).toContain(
      "nobody is there",
    );
  });
});

describe("frames", () => {
  const bytesOf = (pieces: Uint8Array[]) =>
    new Uint8Array(pieces.flatMap((piece) => [...piece]));

  it("come out as they went in, whatever the cuts", () => {
    const all = bytesOf([
      ...encodeFrame({ a: 1 }),
      ...encodeFrame({ b: "ü😀" }, [new Uint8Array([1, 2]), new Uint8Array()]),
      ...encodeFrame({ c: "x".repeat(70000) }),
    ]);
    for (const size of [1, 3, 8, 1000, all.length]) {
      const reader = new FrameReader();
      const frames = [];
      for (let at = 0; at < all.length; at += size) {
        frames.push(...reader.push(all.slice(at, at + size)));
      }
      expect(frames.length).toBe(3);
      expect(frames[1]?.message["b"]).toBe("ü😀");
      expect(frames[1]?.buffers).toEqual([
        new Uint8Array([1, 2]),
        new Uint8Array(),
      ]);
      expect((frames[2]?.message["c"] as string).length).toBe(70000);
    }
  });

  it("of text hold any text, however long", () => {
    const frames = new TextFrames();
    const texts = ["a", "ü😀".repeat(70_000), "x".repeat(65_536), "\u0000\xff"];
    for (const text of texts) {
      const reader = new FrameReader();
      let back = "";
      for (const piece of frames.encode(text)) {
        for (const { message } of reader.push(piece.slice())) {
          back += message["text"];
        }
      }
      expect(back === text).toBe(true);
    }
  });

  it("may have stray text between them", () => {
    const noise = new TextEncoder().encode("hello");
    const all = bytesOf([
      noise,
      ...encodeFrame({ a: 1 }),
      noise,
      ...encodeFrame({ b: 2 }),
    ]);
    for (const size of [1, 2, 9, all.length]) {
      const reader = new FrameReader();
      let stray = "";
      const messages: unknown[] = [];
      for (let at = 0; at < all.length; at += size) {
        for (
          const { message, buffers } of reader.push(all.slice(at, at + size))
        ) {
          if (message["type"] === "stray") {
            stray += new TextDecoder().decode(buffers[0]);
          } else messages.push(message);
        }
      }
      expect(stray).toBe("hellohello");
      expect(messages).toEqual([{ a: 1 }, { b: 2 }]);
    }
  });

  it("that cannot be are refused", () => {
    const [bytes] = encodeFrame({ a: 1 });
    bytes!.set([255, 255, 255, 255], 8);
    expect(() => new FrameReader().push(bytes!)).toThrow(RangeError);
  });
});
