import { describe, expect, it } from "vitest";
import {
  encodeCommand,
  encodeGreeting,
  encodeMultipart,
  encodeReady,
  type Frame,
  FrameDecoder,
} from "../../../lib/kernel/transport/zmtp/mod.ts";

import { createRandom } from "../../../lib/signal/mod.ts";

/** Octets as in the examples of RFC 23 (ZMTP 3.0) and RFC 37 (ZMTP 3.1), rfc.zeromq.org. */
const hex = (blocks: readonly Uint8Array[]) =>
  blocks.map((block) => block.toHex()).join("");

function decode(bytes: Uint8Array, step: number, limit = 1e9): Frame[] {
  const frames: Frame[] = [];
  const decoder = new FrameDecoder((frame) => frames.push(frame), limit);
  for (let at = 0; at < bytes.length; at += step) {
    decoder.push(bytes.subarray(at, at + step));
  }
  return frames;
}

describe("frames of ZMTP", () => {
  it("begin with flags and one length byte up to 255 bytes", () => {
    const text = new TextEncoder().encode("Hi");
    expect(hex(encodeMultipart([text, text]))).toBe("0102486900024869");
    expect(hex(encodeMultipart([new Uint8Array(0)]))).toBe("0000");
  });

  it("have an eight-byte length above 255 bytes", () => {
    const bytes = hex(encodeMultipart([new Uint8Array(256)]));
    expect(bytes.slice(0, 18)).toBe("020000000000000100");
  });

  it("go out as one block unless a part is large", () => {
    const small = [new Uint8Array(10), new Uint8Array(60_000)];
    expect(encodeMultipart(small)).toHaveLength(1);
    const large = new Uint8Array(1_000_000);
    const blocks = encodeMultipart([...small, large, small[0]!]);
    expect(blocks).toHaveLength(3);
    expect(blocks[1]).toBe(large);
  });

  it("are read whatever pieces they come in", () => {
    const parts = [0, 1, 255, 256, 70_000].map((size) =>
      new Uint8Array(size).fill(size % 251)
    );
    const blocks = encodeMultipart(parts);
    const bytes = new Uint8Array(
      blocks.reduce((total, block) => total + block.length, 0),
    );
    let at = 0;
    for (const block of blocks) {
      bytes.set(block, at);
      at += block.length;
    }
    for (const step of [1, 2, 3, 7, 1000, bytes.length]) {
      const frames = decode(bytes, step);
      expect(frames.map(({ body }) => body.length))
        .toEqual([0, 1, 255, 256, 70_000]);
      expect(frames.map(({ hasMore }) => hasMore))
        .toEqual([true, true, true, true, false]);
      expect(frames[4]?.body[69_999]).toBe(70_000 % 251);
    }
  });

  it("are refused where reserved flags are set or the length is over the limit", () => {
    expect(() => decode(Uint8Array.of(0x80, 0), 2)).toThrow(/flags/);
    const huge = Uint8Array.of(2, 0xff, 0, 0, 0, 0, 0, 0, 0);
    expect(() => decode(huge, 9, 1000)).toThrow(/at most 1000/);
  });

  it("are refused by name, never by a crash, whatever bytes come", () => {
    const random = createRandom(7);
    for (let n = 0; n < 2000; n++) {
      const bytes = Uint8Array.from(
        { length: 1 + random.integer(40) },
        () => random.integer(n % 2 === 0 ? 256 : 8),
      );
      try {
        decode(bytes, 1 + random.integer(9), 1e6);
      } catch (error) {
        expect((error as Error).name).toBe("ZmtpError");
      }
    }
  });

  it("carry commands with a name and data", () => {
    const bytes = encodeCommand("PING", Uint8Array.of(0, 0));
    expect(hex([bytes])).toBe("04070450494e470000");
    expect(decode(bytes, 1)[0]?.isCommand).toBe(true);
  });

  it("open with the greeting of version 3.1 and READY with the socket's type", () => {
    const greeting = encodeGreeting();
    expect(greeting).toHaveLength(64);
    expect(hex([greeting]).slice(0, 34)).toBe(
      "ff00000000000000007f" + "0301" + "4e554c4c" + "00",
    );
    expect(hex([encodeReady("REP", null)])).toBe(
      "0419" + "05" + "5245414459" + "0b" + "536f636b65742d54797065" +
        "00000003" + "524550",
    );
  });
});
