import { describe, expect, it } from "vitest";
import type { Exchange, JsonObject } from "../../../lib/kernel/mod.ts";
import { startTestKernel, type TransportName } from "./test_kernel.ts";

/** Types of what was published; a status as its state. */
function order({ published }: Exchange): string[] {
  return published.map(({ header, content }) =>
    String(content["execution_state"] ?? header.msg_type)
  );
}

function content({ reply }: Exchange): JsonObject {
  return reply?.content ?? {};
}

/** The same rules over each transport; the order of section 6.2 of the specification. */
for (const transport of ["memory", "tcp", "ipc"] as TransportName[]) {
  if (transport === "ipc" && Deno.build.os === "windows") continue;
  describe(`a kernel over ${transport}`, () => {
    it("publishes busy, input, outputs, result, idle in this order", async () => {
      await using test = await startTestKernel({ transport });
      const exchange = await test.client.execute(
        "print a\nshow b\nwarn c\nnamed d e\nupdate d f\nclear\ngive g",
      );
      expect(order(exchange)).toEqual([
        "busy",
        "execute_input",
        "stream",
        "display_data",
        "stream",
        "display_data",
        "update_display_data",
        "clear_output",
        "execute_result",
        "idle",
      ]);
      expect(content(exchange)).toEqual({
        status: "ok",
        execution_count: 1,
        user_expressions: {},
        payload: [],
      });
    });

    it("welcomes a subscriber before anything else", async () => {
      await using test = await startTestKernel({ transport });
      await test.client.request("kernel_info_request");
      const first = test.client.messages.find(({ channel }) =>
        channel === "iopub"
      );
      expect(first?.message.header.msg_type).toBe("iopub_welcome");
      expect(first?.message.content).toEqual({ subscription: "" });
    });

    it("publishes an error once and replies with it", async () => {
      await using test = await startTestKernel({ transport });
      const exchange = await test.client.execute("fail Ouch");
      expect(order(exchange)).toEqual([
        "busy",
        "execute_input",
        "error",
        "idle",
      ]);
      expect(content(exchange)).toEqual({
        status: "error",
        execution_count: 1,
        ename: "Ouch",
        evalue: "as asked",
        traceback: ["Ouch: as asked"],
      });
    });

    it("answers every other request between busy and idle", async () => {
      await using test = await startTestKernel({ transport });
      const { client } = test;
      const code = { code: "a", cursor_pos: 1 };
      const requests: [string, JsonObject][] = [
        ["kernel_info_request", {}],
        ["complete_request", code],
        ["inspect_request", { ...code, detail_level: 0 }],
        ["is_complete_request", { code: "a" }],
        ["history_request", { hist_access_type: "tail", n: 3 }],
        ["comm_info_request", {}],
        ["connect_request", {}],
      ];
      for (const [type, body] of requests) {
        const exchange = await client.request(type, body);
        expect(order(exchange)).toEqual(["busy", "idle"]);
        expect(exchange.reply?.header.msg_type).toBe(
          type.replace("request", "reply"),
        );
      }
      const info = await client.request("kernel_info_request", {}, {
        channel: "control",
      });
      expect(content(info)["protocol_version"]).toBe("5.4");
    });

    it("sends idle after the last of many outputs, in 30 cells of 40", async () => {
      await using test = await startTestKernel({ transport });
      const cell = Array.from({ length: 20 }, (_, n) => `print ${n}\nshow ${n}`)
        .join("\n");
      for (let n = 0; n < 30; n++) {
        const exchange = await test.client.execute(cell);
        const names = order(exchange);
        expect(names.at(-1)).toBe("idle");
        expect(names.filter((name) => name === "stream")).toHaveLength(20);
        expect(names.filter((name) => name === "display_data"))
          .toHaveLength(20);
      }
      expect(test.client.late).toBe(0);
    });

    it("joins 2000 lines of text into at most 10 messages", async () => {
      await using test = await startTestKernel({ transport });
      const exchange = await test.client.execute("prints 2000");
      const streams = exchange.published.filter(({ header }) =>
        header.msg_type === "stream"
      );
      expect(streams.length).toBeLessThanOrEqual(10);
      const text = streams.map(({ content }) => content["text"]).join("");
      expect(text.split("\n")).toHaveLength(2001);
    });

    it("runs 100 queued cells in the order in which they came", async () => {
      await using test = await startTestKernel({ transport });
      const cells = Array.from(
        { length: 100 },
        (_, n) => test.client.execute(`give ${n}`),
      );
      const counts = (await Promise.all(cells)).map((exchange) =>
        content(exchange)["execution_count"]
      );
      expect(counts).toEqual(Array.from({ length: 100 }, (_, n) => n + 1));
    });

    it("answers control and heartbeat while a cell computes", async () => {
      await using test = await startTestKernel({ transport });
      const cell = test.client.execute("show started\nwait 60000");
      await test.client.seen("display_data");
      await test.client.request("kernel_info_request", {}, {
        channel: "control",
      });
      const interrupt = await test.client.request("interrupt_request", {}, {
        channel: "control",
      });
      expect(content(interrupt)).toEqual({ status: "ok" });
      expect(content(await cell)["ename"]).toBe("Interrupted");
      const after = await test.client.execute("give still here");
      expect(content(after)["status"]).toBe("ok");
    });

    it("carries a result of 20 MB whole", async () => {
      await using test = await startTestKernel({ transport });
      const { published } = await test.client.execute("big 20000000");
      const result = published.find(({ header }) =>
        header.msg_type === "execute_result"
      );
      const data = result?.content["data"] as Record<string, string>;
      expect(data["text/plain"]?.length).toBe(20_000_000);
    });

    it("asks only the client that sent the cell", async () => {
      await using test = await startTestKernel({ transport });
      const other = await test.connect();
      other.onInput = () => "from the other";
      test.client.onInput = (prompt, password) =>
        `${prompt}${password ? " hidden" : ""}`;
      const exchange = await test.client.execute("ask name?");
      const result = exchange.published.find(({ header }) =>
        header.msg_type === "execute_result"
      );
      expect(result?.content["data"]).toEqual({ "text/plain": "name?" });
      await test.client.execute("secret word?");
      const asked = (messages: typeof other.messages) =>
        messages.filter(({ channel }) => channel === "stdin").length;
      expect(asked(other.messages)).toBe(0);
      expect(asked(test.client.messages)).toBe(2);
      // Both see what is published
      await other.request("kernel_info_request");
      expect(
        other.messages.filter(({ message }) =>
          message.header.msg_type === "execute_result"
        ),
      ).toHaveLength(2);
    });

    it("replies to shutdown on control and tells all on IOPub", async () => {
      await using test = await startTestKernel({ transport });
      const exchange = await test.client.request(
        "shutdown_request",
        { restart: true },
        { channel: "control" },
      );
      expect(content(exchange)).toEqual({ status: "ok", restart: true });
      expect(order(exchange)).toEqual(["busy", "shutdown_reply", "idle"]);
      await test.kernel.ended;
    });

    it("keeps buffers of comms in both directions", async () => {
      await using test = await startTestKernel({ transport });
      const { published } = await test.client.execute("comm c1");
      const open = published.find(({ header }) =>
        header.msg_type === "comm_open"
      );
      expect([...open?.buffers[0] ?? []]).toEqual([1, 2, 3]);
      const known = await test.client.request(
        "comm_open",
        { comm_id: "c2", target_name: "known", data: {} },
        { buffers: [Uint8Array.of(9)] },
      );
      expect(order(known)).toEqual(["busy", "stream", "idle"]);
    });
  });
}
