import { describe, expect, it } from "vitest";
import {
  FileHistory,
  findHistory,
  type HistoryQuery,
} from "../../../lib/kernel/mod.ts";
import { startTestKernel } from "../conformance/test_kernel.ts";

const tail = (n: number): HistoryQuery => ({
  access: "tail",
  count: n,
  session: 0,
  start: null,
  stop: null,
  pattern: "*",
  unique: false,
});

function folder(): string {
  return `${Deno.makeTempDirSync({ prefix: "fringebook-" })}/history`;
}

const silent = () => {};

describe("history_request", () => {
  it("gives the last cells, with outputs where asked for", async () => {
    await using test = await startTestKernel();
    for (const code of ["give 1", "print 2", "give 3"]) {
      await test.client.execute(code);
    }
    const plain = await test.client.request("history_request", {
      hist_access_type: "tail",
      n: 2,
      output: false,
      raw: true,
    });
    expect(plain.reply?.content["history"]).toEqual([
      [1, 2, "print 2"],
      [1, 3, "give 3"],
    ]);
    const full = await test.client.request("history_request", {
      hist_access_type: "tail",
      n: 2,
      output: true,
      raw: true,
    });
    expect(full.reply?.content["history"]).toEqual([
      [1, 2, ["print 2", null]],
      [1, 3, ["give 3", "3"]],
    ]);
  });

  it("gives a range of lines of this session", async () => {
    await using test = await startTestKernel();
    for (const code of ["give 1", "give 2", "give 3"]) {
      await test.client.execute(code);
    }
    const { reply } = await test.client.request("history_request", {
      hist_access_type: "range",
      session: 0,
      start: 2,
      stop: 3,
    });
    expect(reply?.content["history"]).toEqual([[1, 2, "give 2"]]);
  });

  it("searches with * and ?, each text once where asked for", async () => {
    await using test = await startTestKernel();
    for (const code of ["give a1", "give a2", "give a1", "print (a1)"]) {
      await test.client.execute(code);
    }
    const search = async (body: Record<string, unknown>) =>
      (await test.client.request("history_request", {
        hist_access_type: "search",
        ...body,
      })).reply?.content["history"];
    expect(await search({ pattern: "give a?" })).toHaveLength(3);
    expect(await search({ pattern: "give a?", unique: true })).toEqual([
      [1, 2, "give a2"],
      [1, 3, "give a1"],
    ]);
    expect(await search({ pattern: "*(a1)" })).toHaveLength(1);
    expect(await search({ pattern: "give*", n: 2 })).toHaveLength(2);
  });

  it("does not hold cells that were not to be stored", async () => {
    await using test = await startTestKernel();
    await test.client.execute("give 1", { store_history: false });
    await test.client.execute("give 2", { silent: true });
    const { reply } = await test.client.request("history_request", {
      hist_access_type: "tail",
      n: 5,
    });
    expect(reply?.content["history"]).toEqual([]);
  });

  it("replies with an error for an access that is not known", async () => {
    await using test = await startTestKernel();
    const { reply } = await test.client.request("history_request", {});
    expect(reply?.content["evalue"]).toMatch(/hist_access_type/);
  });
});

describe("FileHistory", () => {
  it("keeps what was run across sessions", async () => {
    const path = folder();
    const first = new FileHistory(path, silent);
    first.recordInput(1, "const a = 1;");
    first.recordInput(2, "a");
    first.recordOutput(2, "1");
    await first.close();
    const second = new FileHistory(path, silent);
    second.recordInput(1, "b");
    const entries = await findHistory(second, tail(3));
    expect(entries.map(({ session, line }) => [session, line])).toEqual([
      [1, 1],
      [1, 2],
      [2, 1],
    ]);
    expect(entries[1]?.output).toBe("1");
    const before = { ...tail(9), access: "range" as const, session: -1 };
    expect(await findHistory(second, before)).toHaveLength(2);
    await second.close();
  });

  it("gives sessions that run at once different numbers", async () => {
    const path = folder();
    const stores = Array.from(
      { length: 8 },
      () => new FileHistory(path, silent),
    );
    const numbers = await Promise.all(stores.map((store) => {
      store.recordInput(1, "a");
      return store.currentSession();
    }));
    expect(new Set(numbers).size).toBe(8);
    for (const store of stores) await store.close();
  });

  it("makes no file for a session that runs nothing", async () => {
    const path = folder();
    const store = new FileHistory(path, silent);
    expect(await findHistory(store, tail(5))).toEqual([]);
    await store.close();
    expect(() => Deno.statSync(path)).toThrow();
  });

  it("keeps the newest 1000 sessions", async () => {
    const path = folder();
    Deno.mkdirSync(path, { recursive: true });
    for (let n = 1; n <= 1003; n++) {
      const name = `${String(n).padStart(6, "0")}.jsonl`;
      Deno.writeTextFileSync(`${path}/${name}`, "");
    }
    const store = new FileHistory(path, silent);
    store.recordInput(1, "a");
    await store.close();
    const names = [...Deno.readDirSync(path)].map(({ name }) => name).sort();
    expect(names).toHaveLength(1000);
    expect([names[0], names.at(-1)]).toEqual(["000005.jsonl", "001004.jsonl"]);
  });

  it("reads a session whose last line was cut off", async () => {
    const path = folder();
    Deno.mkdirSync(path, { recursive: true });
    Deno.writeTextFileSync(
      `${path}/000004.jsonl`,
      '{"line":1,"input":"a"}\n{"line":2,"inp',
    );
    const store = new FileHistory(path, silent);
    expect(await store.currentSession()).toBe(5);
    expect(await store.session(4)).toEqual([
      { session: 4, line: 1, input: "a", output: null },
    ]);
    await store.close();
  });

  it("goes on in memory, and says so once, where the folder cannot be made", async () => {
    const file = Deno.makeTempFileSync();
    const log: string[] = [];
    const store = new FileHistory(`${file}/history`, (line) => log.push(line));
    store.recordInput(1, "a");
    store.recordInput(2, "b");
    expect(await findHistory(store, tail(5))).toHaveLength(2);
    await store.close();
    expect(log).toHaveLength(1);
    expect(log[0]).toMatch(/Cannot keep the history/);
  });

  it("goes on in memory where the disk is full", async () => {
    if (Deno.build.os !== "linux") return;
    const path = folder();
    Deno.mkdirSync(path, { recursive: true });
    const log: string[] = [];
    const store = new FileHistory(path, (line) => log.push(line));
    // Every write to this device fails with "no space left"
    const open = Deno.open;
    try {
      Deno.open = () => open("/dev/full", { write: true });
      store.recordInput(1, "a");
      expect(await findHistory(store, tail(5))).toHaveLength(1);
      await store.close();
    } finally {
      Deno.open = open;
    }
    expect(log.join()).toMatch(/[Nn]o space/);
  });

  it("does not wait for a pipe in the place of a session", async () => {
    if (Deno.build.os === "windows") return;
    const path = folder();
    await Deno.mkdir(path, { recursive: true });
    await new Deno.Command("mkfifo", { args: [`${path}/000001.jsonl`] })
      .output();
    const history = new FileHistory(path, silent);
    expect(await history.session(1)).toEqual([]);
    await history.close();
  });
});
