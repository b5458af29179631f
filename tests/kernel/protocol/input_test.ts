import { describe, expect, it } from "vitest";
import type { RequestContext } from "../../../lib/kernel/mod.ts";
import { startTestKernel } from "../conformance/test_kernel.ts";
import { createEchoInterpreter, ok } from "./echo_interpreter.ts";

describe("input of a cell", () => {
  it("fails with a named error where the client takes no input", async () => {
    await using test = await startTestKernel();
    const { reply } = await test.client.execute("ask name?", {
      allow_stdin: false,
    });
    expect(reply?.content["ename"]).toBe("InputNotAllowedError");
  });

  it("fails with a named error where the request does not say", async () => {
    await using test = await startTestKernel();
    const { reply } = await test.client.request("execute_request", {
      code: "ask name?",
    });
    expect(reply?.content["ename"]).toBe("InputNotAllowedError");
  });

  it("ends as interrupted where the person interrupts", async () => {
    await using test = await startTestKernel();
    const cell = test.client.execute("ask name?", { allow_stdin: true });
    await test.client.seen("input_request");
    await test.client.request("interrupt_request", {}, { channel: "control" });
    expect((await cell).reply?.content["ename"]).toBe("KeyboardInterrupt");
    test.client.onInput = () => "fine";
    const after = await test.client.execute("ask again?");
    expect(after.reply?.content["status"]).toBe("ok");
  });

  it("puts questions asked at once one after the other, and none after an interrupt", async () => {
    const ends: string[] = [];
    const ask = async (context: RequestContext, prompt: string) => {
      await context.requestInput(prompt, false).then(
        (line) => ends.push(line),
        (error) => ends.push(error.name),
      );
    };
    await using test = await startTestKernel({
      interpreter: createEchoInterpreter({
        execute: async (_, context) => {
          await Promise.all([ask(context, "a"), ask(context, "b")]);
          return ok();
        },
      }),
    });
    test.client.onInput = (prompt) => `${prompt}!`;
    await test.client.execute("");
    expect(ends).toEqual(["a!", "b!"]);
    test.client.onInput = null;
    const cell = test.client.execute("", { allow_stdin: true });
    await test.client.seen("input_request", 3);
    await test.client.request("interrupt_request", {}, { channel: "control" });
    await cell;
    expect(ends.slice(2)).toEqual(["KeyboardInterrupt", "KeyboardInterrupt"]);
  });

  it("ends with a named error at the end of input", async () => {
    await using test = await startTestKernel();
    test.client.onInput = () => "\x04";
    const { reply } = await test.client.execute("ask name?");
    expect(reply?.content["ename"]).toBe("EndOfInputError");
  });

  it("sends text before the question", async () => {
    await using test = await startTestKernel();
    test.client.onInput = () => "x";
    await test.client.execute("print first\nask then?");
    const names = test.client.messages.map(({ message }) =>
      message.header.msg_type
    );
    expect(names.indexOf("stream")).toBeLessThan(
      names.indexOf("input_request"),
    );
  });
});
