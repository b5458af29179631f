import { describe, expect, it } from "vitest";
import type { Exchange, JsonObject } from "../../../lib/kernel/mod.ts";
import type { CheckedClient } from "./checked_client.ts";
import { KERNEL, shutDown, startProcess } from "./kernel_process.ts";
import { freeConnection } from "../transport/zmtp_client.ts";

/** Runs a body with a client of the kernel that is installed. */
async function withKernel(
  body: (client: CheckedClient) => Promise<void>,
  args: string[] = [],
): Promise<void> {
  const cwd = Deno.makeTempDirSync({ prefix: "fringebook-" });
  const process = startProcess(freeConnection("tcp"), {
    script: KERNEL,
    args,
    cwd,
  });
  const client = await process.connect();
  try {
    await body(client);
  } finally {
    await shutDown(process, client);
  }
}

function published(exchange: Exchange, type: string): JsonObject[] {
  return exchange.published.filter(({ header }) => header.msg_type === type)
    .map(({ content }) => content);
}

function result(exchange: Exchange): unknown {
  const [first] = published(exchange, "execute_result");
  return (first?.["data"] as JsonObject | undefined)?.["text/plain"];
}

function reply({ reply }: Exchange): JsonObject {
  return reply?.content ?? {};
}

describe("the installed kernel, every message checked", () => {
  it("runs cells with text, displays, results and errors", async () => {
    await withKernel(async (client) => {
      const info = await client.request("kernel_info_request");
      expect((reply(info)["language_info"] as JsonObject)["name"])
        .toBe("typescript");
      const cell = await client.execute(
        `const a: number = 6; console.log("out"); console.error("err"); a * 7`,
      );
      expect(result(cell)).toBe("42");
      expect(published(cell, "stream")).toEqual([
        { name: "stdout", text: "out\n" },
        { name: "stderr", text: "err\n" },
      ]);
      const shown = await client.execute(
        `await cell.display("x", { displayId: "d" }); await cell.updateDisplay("d", "y"); cell.clearOutput({ wait: true })`,
      );
      expect(published(shown, "display_data")).toHaveLength(1);
      expect(published(shown, "update_display_data")).toHaveLength(1);
      expect(published(shown, "clear_output")).toEqual([{ wait: true }]);
      const page = await client.execute(`cell.page("long")`);
      expect(reply(page)["payload"]).toHaveLength(1);
      const wrong = await client.execute("null.x");
      expect(reply(wrong)["ename"]).toBe("TypeError");
      const syntax = await client.execute("const = 1");
      expect(published(syntax, "error")[0]?.["ename"]).toBe("SyntaxError");
      expect(result(await client.execute("a"))).toBe("6");
    });
  });

  it("completes, inspects and judges code", async () => {
    await withKernel(async (client) => {
      const complete = await client.request("complete_request", {
        code: "Math.flo",
        cursor_pos: 8,
      });
      expect(reply(complete)["matches"]).toEqual(["floor"]);
      const inspect = await client.request("inspect_request", {
        code: "Math.floor",
        cursor_pos: 7,
        detail_level: 0,
      });
      expect(reply(inspect)["found"]).toBe(true);
      const half = await client.request("is_complete_request", { code: "f(" });
      expect(reply(half)["status"]).toBe("incomplete");
    });
  });

  it("asks for a line and a password", async () => {
    await withKernel(async (client) => {
      client.onInput = (prompt, password) => prompt + password;
      const line = await client.execute(`await cell.input("a?")`);
      expect(result(line)).toBe('"a?false"');
      const hidden = await client.execute(
        `await cell.input("b?", { password: true })`,
      );
      expect(result(hidden)).toBe('"b?true"');
    });
  });

  it("is interrupted with variables kept, and lives on when a cell exits", async () => {
    await withKernel(async (client) => {
      await client.execute("const kept = 1");
      const loop = client.execute("await cell.display(1); for (;;) {}");
      await client.seen("display_data");
      await client.request("interrupt_request", {}, { channel: "control" });
      expect(reply(await loop)["ename"]).toBe("KeyboardInterrupt");
      expect(result(await client.execute("kept"))).toBe("1");
      const exit = await client.execute("Deno.exit(1)");
      expect(reply(exit)["evalue"]).toMatch(/lost/);
      expect(result(await client.execute("2"))).toBe("2");
    });
  });

  it("refuses the network unless the install granted it", async () => {
    const server = Deno.serve(
      { hostname: "127.0.0.1", port: 0, onListen: () => {} },
      () => new Response("served"),
    );
    const host = `127.0.0.1:${server.addr.port}`;
    const code = `await (await fetch("http://${host}")).text()`;
    try {
      await withKernel(async (client) => {
        expect(reply(await client.execute(code))["status"]).toBe("error");
      });
      await withKernel(async (client) => {
        expect(result(await client.execute(code))).toBe('"served"');
      }, [`--allow-net=${host}`]);
    } finally {
      await server.shutdown();
    }
  });

  it("keeps a session to the memory that the install allows", async () => {
    await withKernel(async (client) => {
      const greedy = await client.execute(
        "const all: number[][] = []; for (;;) all.push(new Array(1e5).fill(1.5))",
      );
      expect(reply(greedy)["status"]).toBe("error");
      expect(reply(greedy)["evalue"]).toMatch(/memory/);
      expect(result(await client.execute("3"))).toBe("3");
    }, ["--memory-limit=128"]);
  });
});
