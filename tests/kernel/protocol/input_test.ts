import { describe, expect, it } from "vitest";
import { startTestKernel } from "../conformance/test_kernel.ts";

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
    await new Promise((resolve) => setTimeout(resolve, 10));
    await test.client.request("interrupt_request", {}, { channel: "control" });
    expect((await cell).reply?.content["ename"]).toBe("KeyboardInterrupt");
    test.client.onInput = () => "fine";
    const after = await test.client.execute("ask again?");
    expect(after.reply?.content["status"]).toBe("ok");
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
