import { describe, expect, it } from "vitest";
import { freeConnection } from "../transport/zmtp_client.ts";
import {
  shutDown,
  startProcess,
  writeConnectionFile,
} from "./kernel_process.ts";

const delay = (time: number) => new Promise((done) => setTimeout(done, time));

async function ended(child: Deno.ChildProcess, time: number): Promise<boolean> {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const late = new Promise<false>((resolve) =>
    timer = setTimeout(() => resolve(false), time)
  );
  const result = await Promise.race([child.status.then(() => true), late]);
  clearTimeout(timer);
  return result;
}

describe("a kernel process", () => {
  it("ends with code 0 after a shutdown_request", async () => {
    const process = startProcess();
    const client = await process.connect();
    await client.execute("give 1");
    await shutDown(process, client);
  });

  it("survives SIGINT while idle, and stops a busy cell at it", async () => {
    if (Deno.build.os === "windows") return;
    const process = startProcess();
    const client = await process.connect();
    await client.execute("give 1");
    process.child.kill("SIGINT");
    await delay(50);
    const cell = client.execute("show started\nwait 60000");
    await client.seen("display_data");
    process.child.kill("SIGINT");
    const { reply } = await cell;
    expect(reply?.content["ename"]).toBe("Interrupted");
    const after = await client.execute("give 2");
    expect(after.reply?.content["execution_count"]).toBe(3);
    await shutDown(process, client);
  });

  it("ends at SIGTERM and frees its ports", async () => {
    if (Deno.build.os === "windows") return;
    const process = startProcess();
    const client = await process.connect();
    process.child.kill("SIGTERM");
    expect((await process.child.status).code).toBe(0);
    await client.close();
  });

  it("starts again on the same ports, 20 times, each with a new session", async () => {
    const info = freeConnection("tcp");
    const sessions = new Set<unknown>();
    for (let n = 0; n < 20; n++) {
      const process = startProcess(info);
      const client = await process.connect();
      const { reply } = await client.execute("give 1");
      expect(reply?.content["execution_count"]).toBe(1);
      sessions.add(reply?.header.session);
      await shutDown(process, client, true);
    }
    expect(sessions.size).toBe(20);
  });

  for (const when of ["while it starts", "when it listens"] as const) {
    it(`ends when the process that started it is killed ${when}`, async () => {
      if (Deno.build.os === "windows") return;
      const info = freeConnection("tcp");
      const file = writeConnectionFile(info);
      const main = new URL("./echo_main.ts", import.meta.url).href;
      const parent = new Deno.Command(Deno.execPath(), {
        args: [
          "eval",
          `const child = new Deno.Command(Deno.execPath(), {
          args: ["run", "-A", "--no-check", ${JSON.stringify(main)}, ${
            JSON.stringify(file)
          }],
          env: { JPY_PARENT_PID: String(Deno.pid), FRINGEBOOK_HISTORY: "off" },
          stdout: "null", stderr: "null", stdin: "null",
        }).spawn();
        console.log(child.pid);
        await child.status;`,
        ],
        stdout: "piped",
        stderr: "null",
      }).spawn();
      const { value } = await parent.stdout.getReader().read();
      const pid = Number(new TextDecoder().decode(value));
      for (let n = 0; n < 200 && when === "when it listens"; n++) {
        const taken = await Deno.connect({ port: info.shell_port }).then(
          (conn) => (conn.close(), true),
          () => false,
        );
        if (taken) break;
        await delay(25);
      }
      parent.kill("SIGKILL");
      await parent.status;
      await parent.stdout.cancel().catch(() => {});
      const alive = () => {
        try {
          return Deno.readTextFileSync(`/proc/${pid}/stat`).split(") ")[1]
            ?.[0] !==
            "Z";
        } catch {
          return false;
        }
      };
      if (Deno.build.os !== "linux") return;
      for (let n = 0; n < 200 && alive(); n++) await delay(25);
      expect(alive()).toBe(false);
    });
  }

  it("fails at once, and says why, where a port is taken or there is no file", async () => {
    const info = freeConnection("tcp");
    const taken = Deno.listen({ hostname: "127.0.0.1", port: info.hb_port });
    const first = startProcess(info);
    expect(await ended(first.child, 10_000)).toBe(true);
    expect((await first.child.status).code).toBe(1);
    taken.close();
    const main = new URL("./echo_main.ts", import.meta.url).href;
    const { code, stderr } = await new Deno.Command(Deno.execPath(), {
      args: ["run", "-A", "--no-check", main],
    }).output();
    expect(code).toBe(1);
    expect(new TextDecoder().decode(stderr)).toMatch(/one connection file/);
  });
});
