import { describe, expect, it } from "vitest";
import { startTestKernel } from "../conformance/test_kernel.ts";
import { createEchoInterpreter, failure, ok } from "./echo_interpreter.ts";

describe("execute_request", () => {
  it("gives each cell one count, in input, result and reply", async () => {
    await using test = await startTestKernel({
      interpreter: createEchoInterpreter(),
    });
    await test.client.execute("a");
    const { reply, published } = await test.client.execute("b");
    const counts = published.map(({ content }) => content["execution_count"])
      .filter((value) => value !== undefined);
    expect([...counts, reply?.content["execution_count"]]).toEqual([2, 2, 2]);
  });

  it("does not count a cell that is not stored", async () => {
    await using test = await startTestKernel();
    await test.client.execute("give 1");
    const { reply } = await test.client.execute("give 2", {
      store_history: false,
    });
    expect(reply?.content["execution_count"]).toBe(1);
    const after = await test.client.execute("give 3");
    expect(after.reply?.content["execution_count"]).toBe(2);
  });

  it("publishes only busy and idle for a silent cell, and does not count it", async () => {
    await using test = await startTestKernel();
    const { reply, published } = await test.client.execute(
      "print a\nshow b\ngive c",
      { silent: true },
    );
    expect(published.map(({ header }) => header.msg_type)).toEqual([
      "status",
      "status",
    ]);
    expect(reply?.content["execution_count"]).toBe(0);
  });

  it("does not abort the queue after a silent error", async () => {
    await using test = await startTestKernel();
    const [first, second] = await Promise.all([
      test.client.execute("fail A", { silent: true }),
      test.client.execute("give 1"),
    ]);
    expect(first?.reply?.content["status"]).toBe("error");
    expect(first?.published).toHaveLength(2);
    expect(second?.reply?.content["status"]).toBe("ok");
  });

  it("aborts the cells queued behind an error, and no other request", async () => {
    await using test = await startTestKernel();
    const { client } = test;
    const [, second, info, third] = await Promise.all([
      client.execute("fail A"),
      client.execute("give 1"),
      client.request("kernel_info_request"),
      client.execute("give 2"),
    ]);
    for (const aborted of [second, third]) {
      expect(aborted?.reply?.content).toEqual({
        status: "aborted",
        execution_count: 1,
      });
      expect(aborted?.published).toHaveLength(2);
    }
    expect(info?.reply?.content["status"]).toBe("ok");
    const later = await client.execute("give 3");
    expect(later.reply?.content["status"]).toBe("ok");
  });

  it("aborts a cell that arrives shortly after the error, before its reply", async () => {
    await using test = await startTestKernel({ settleTime: 100 });
    const first = test.client.execute("fail A");
    await new Promise((resolve) => setTimeout(resolve, 30));
    const second = await test.client.execute("give 1");
    expect(second.reply?.content["status"]).toBe("aborted");
    await first;
    const third = await test.client.execute("give 1");
    expect(third.reply?.content["status"]).toBe("ok");
  });

  it("goes on after an error where stop_on_error is false", async () => {
    await using test = await startTestKernel();
    const [, second] = await Promise.all([
      test.client.execute("fail A", { stop_on_error: false }),
      test.client.execute("give 1"),
    ]);
    expect(second?.reply?.content["status"]).toBe("ok");
  });

  it("evaluates user expressions after success", async () => {
    await using test = await startTestKernel();
    const { reply } = await test.client.execute("give 1", {
      user_expressions: { good: "1+1", wrong: "bad" },
    });
    const expressions = reply?.content["user_expressions"] as Record<
      string,
      { status: string }
    >;
    expect(expressions["good"]?.status).toBe("ok");
    expect(expressions["wrong"]?.status).toBe("error");
  });

  it("turns an interpreter that throws into an error of the cell", async () => {
    await using test = await startTestKernel();
    const { reply, published } = await test.client.execute("throw Odd");
    expect(reply?.content["ename"]).toBe("Odd");
    expect(published.map(({ header }) => header.msg_type)).toContain("error");
  });

  it("replies with an error where the request has no code", async () => {
    await using test = await startTestKernel();
    const { reply } = await test.client.request("execute_request", {});
    expect(reply?.content["status"]).toBe("error");
    expect(reply?.content["evalue"]).toMatch(/'code' must be text/);
  });

  it("replies with an error where the reply cannot be written as JSON", async () => {
    const loop: Record<string, unknown> = {};
    loop["loop"] = loop;
    await using test = await startTestKernel({
      interpreter: createEchoInterpreter({
        complete: () =>
          Promise.resolve({
            matches: [],
            cursorStart: 0,
            cursorEnd: 0,
            metadata: loop,
          }),
      }),
    });
    const { reply } = await test.client.request("complete_request", {
      code: "",
      cursor_pos: 0,
    });
    expect(reply?.content["status"]).toBe("error");
  });

  it("writes NaN, BigInt and undefined as JSON that clients can read", async () => {
    await using test = await startTestKernel({
      interpreter: createEchoInterpreter({
        execute: () => ({
          status: "ok",
          result: {
            data: {
              "text/plain": "values",
              "application/json": {
                a: NaN,
                b: 10n,
                c: 2n ** 80n,
                d: undefined,
              },
              "image/png": Uint8Array.of(1, 2, 3),
            },
            metadata: {},
          },
          userExpressions: {},
        }),
      }),
    });
    const { published } = await test.client.execute("");
    const result = published.find(({ header }) =>
      header.msg_type === "execute_result"
    );
    expect(result?.content["data"]).toEqual({
      "text/plain": "values",
      "application/json": { a: null, b: 10, c: "1208925819614629174706176" },
      "image/png": "AQID",
    });
  });

  it("sends late output with the cell that started it as parent", async () => {
    await using test = await startTestKernel();
    const first = await test.client.execute("late 60 from the first");
    const second = test.client.execute("wait 150\nprint second");
    await second;
    const late = test.client.messages.find(({ message }) =>
      message.content["text"] === "from the first"
    );
    expect(late?.message.parentHeader["msg_id"]).toBe(
      first.reply?.parentHeader["msg_id"],
    );
    expect(test.client.late).toBe(1);
  });

  it("keeps stdout and stderr in their order", async () => {
    await using test = await startTestKernel();
    const { published } = await test.client.execute(
      "print a\nprint b\nwarn c\nprint d",
    );
    const texts = published.filter(({ header }) => header.msg_type === "stream")
      .map(({ content }) => content["text"]);
    expect(texts).toEqual(["a\nb\n", "c\n", "d\n"]);
  });

  it("returns pages in the reply", async () => {
    await using test = await startTestKernel();
    const { reply } = await test.client.execute("page long text");
    expect(reply?.content["payload"]).toEqual([
      { source: "page", data: { "text/plain": "long text" }, start: 0 },
    ]);
  });

  it("answers while the interpreter still gets ready, and runs cells afterwards", async () => {
    const { promise, resolve } = Promise.withResolvers<void>();
    await using test = await startTestKernel({
      interpreter: createEchoInterpreter({ start: () => promise }),
    });
    await test.client.request("kernel_info_request");
    const cell = test.client.execute("a");
    resolve();
    expect((await cell).reply?.content["status"]).toBe("ok");
  });

  it("says in every cell why the interpreter could not start", async () => {
    await using test = await startTestKernel({
      interpreter: createEchoInterpreter({
        start: () => Promise.reject(new Error("no room")),
      }),
    });
    const { reply } = await test.client.execute("a");
    expect(reply?.content["evalue"]).toBe("no room");
  });

  it("stops a cell that was interrupted before the interpreter was ready", async () => {
    const { promise, resolve } = Promise.withResolvers<void>();
    await using test = await startTestKernel({
      interpreter: createEchoInterpreter({ start: () => promise }),
    });
    const cell = test.client.execute("a");
    await test.client.request("interrupt_request", {}, { channel: "control" });
    resolve();
    expect((await cell).reply?.content["status"]).toBe("error");
  });

  it("passes the cell's id and clamps nothing of it", async () => {
    let seen: string | null = null;
    await using test = await startTestKernel({
      interpreter: createEchoInterpreter({
        execute: ({ cellId }) => {
          seen = cellId;
          return ok();
        },
      }),
    });
    await test.client.request("execute_request", { code: "" }, {
      metadata: { cellId: "abc" },
    });
    expect(seen).toBe("abc");
  });

  it("does not call interrupt where nothing runs", async () => {
    let calls = 0;
    await using test = await startTestKernel({
      interpreter: createEchoInterpreter({
        interrupt: () => Promise.resolve(void calls++),
        execute: () => failure("A"),
      }),
    });
    await test.client.request("interrupt_request", {}, { channel: "control" });
    expect(calls).toBe(0);
  });
});
