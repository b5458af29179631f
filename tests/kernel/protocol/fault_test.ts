import { describe, expect, it } from "vitest";
import {
  decodeMessage,
  encodeMessage,
  HeaderFactory,
  ReplayGuard,
  Signer,
} from "../../../lib/kernel/mod.ts";
import {
  startTestKernel,
  TEST_KEY,
  type TransportName,
} from "../conformance/test_kernel.ts";
import { createRandom } from "../../../lib/signal/mod.ts";
import { createEchoInterpreter } from "./echo_interpreter.ts";

const bytes = (text: string) => new TextEncoder().encode(text);

function infoRequest(key = TEST_KEY): Uint8Array[] {
  return encodeMessage({
    header: new HeaderFactory("mallory").create("kernel_info_request"),
    parentHeader: null,
    metadata: {},
    content: {},
    buffers: [],
  }, new Signer(key));
}

/** Signed, but with a part that is not what it should be; never twice the same. */
function signed(header: string, content = "{}"): Uint8Array[] {
  const metadata = JSON.stringify({ unique: crypto.randomUUID() });
  const parts = [header, "{}", metadata, content].map(bytes);
  return [bytes("<IDS|MSG>"), new Signer(TEST_KEY).sign(parts), ...parts];
}

const good = JSON.stringify(new HeaderFactory("m").create("x_request"));

/** Name, frames made anew so that none is a repeat, and the line in the log. */
const FAULTS: [string, () => Uint8Array[], RegExp][] = [
  ["a wrong signature", () => infoRequest("another key"), /signature is wrong/],
  ["no signature", () => infoRequest(""), /signature is wrong/],
  ["no delimiter", () => infoRequest().slice(1), /no delimiter/],
  ["too few frames", () => infoRequest().slice(0, 4), /too short/],
  ["one empty frame", () => [new Uint8Array(0)], /no delimiter/],
  ["a header that is no JSON", () => signed("{"), /not JSON/],
  ["a header that is a list", () => signed("[]"), /not a JSON object/],
  ["a header without an id", () => signed("{}"), /msg_id/],
  ["content that is no JSON", () => signed(good, "?"), /not JSON/],
];

describe("a message that is refused", () => {
  for (const transport of ["memory", "tcp"] as TransportName[]) {
    for (const [name, make, why] of FAULTS) {
      it(`for ${name} is logged without busy, and the kernel lives (${transport})`, async () => {
        await using test = await startTestKernel({ transport });
        const raw = await test.connectRaw();
        raw.send("shell", make());
        raw.send("control", make());
        raw.send("stdin", make());
        // Sent later on the same channels, so served after what was refused
        await test.client.request("kernel_info_request");
        const told = () => test.log.filter((line) => why.test(line)).length;
        for (let n = 0; n < 2000 && told() < 3; n++) {
          await new Promise((resolve) => setTimeout(resolve, 5));
        }
        expect(told()).toBe(3);
        expect(test.log.join()).not.toContain(TEST_KEY);
        const busy = test.client.messages.filter(({ message }) =>
          message.content["execution_state"] === "busy"
        );
        expect(busy).toHaveLength(1);
      });
    }
  }

  it("is refused by name, whatever frames come", () => {
    const random = createRandom(11);
    const signer = new Signer("");
    const frames = infoRequest("");
    for (let n = 0; n < 2000; n++) {
      const spoiled = frames.map((frame) => frame.slice());
      const frame = spoiled[random.integer(spoiled.length)]!;
      if (frame.length > 0) {
        frame[random.integer(frame.length)] = random.integer(256);
      }
      if (n % 3 === 0) spoiled.splice(random.integer(spoiled.length), 1);
      try {
        const message = decodeMessage(spoiled, signer);
        expect(typeof message.header.msg_type).toBe("string");
      } catch (error) {
        expect((error as Error).name).toBe("MessageRefusedError");
      }
    }
  });

  it("is a repeat of one that was served", async () => {
    await using test = await startTestKernel();
    const raw = await test.connectRaw();
    const answers: unknown[] = [];
    raw.listen((channel) => channel === "shell" && answers.push(channel));
    const frames = infoRequest();
    raw.send("shell", frames);
    raw.send("shell", frames);
    raw.send("control", frames);
    await test.client.request("kernel_info_request");
    expect(answers).toHaveLength(1);
    expect(test.log.filter((line) => /served before/.test(line)))
      .toHaveLength(2);
  });
});

describe("a request that nobody serves", () => {
  it("gets busy and idle, a line in the log, and no reply", async () => {
    await using test = await startTestKernel();
    const { published } = await test.client.request(
      "no_such_request",
      {},
      { expectsReply: false },
    );
    expect(published).toHaveLength(2);
    expect(test.log.join()).toMatch(/Nobody serves 'no_such_request'/);
    const debug = await test.client.request("debug_request", {}, {
      channel: "control",
      expectsReply: false,
    });
    expect(debug.published).toHaveLength(2);
  });

  it("gets an error reply where the handler throws", async () => {
    await using test = await startTestKernel({
      interpreter: createEchoInterpreter({
        complete: () => Promise.reject(new RangeError("broken")),
      }),
    });
    const { reply, published } = await test.client.request(
      "complete_request",
      { code: "a", cursor_pos: 1 },
    );
    expect(reply?.content["ename"]).toBe("RangeError");
    expect(published).toHaveLength(2);
  });
});

describe("ReplayGuard", () => {
  it("forgets the oldest tenth when it is full", () => {
    const guard = new ReplayGuard(10);
    for (let n = 0; n < 11; n++) expect(guard.admit(`${n}`)).toBe(true);
    expect(guard.admit("10")).toBe(false);
    expect(guard.admit("1")).toBe(false);
    expect(guard.admit("0")).toBe(true);
  });
});

describe("Signer", () => {
  it("computes HMAC-SHA256 as RFC 4231, test case 2, says", () => {
    const signature = new Signer("Jefe").sign([
      bytes("what do ya want "),
      bytes("for nothing?"),
    ]);
    expect(new TextDecoder().decode(signature)).toBe(
      "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843",
    );
  });

  it("refuses a scheme that it does not know", () => {
    expect(() => new Signer("k", "curve")).toThrow(/signature_scheme/);
  });

  it("takes other hashes by their name", () => {
    expect(new Signer("k", "hmac-sha512").sign([])).toHaveLength(128);
  });
});
