/**
 * Hostile files and strangers, against the real readers, runner and kernel: what
 * a forged notebook, a forged result, a bomb, a pipe, a stranger at the kernel's
 * door and a full disk can do.
 *
 * Run as root: .ci/outside/attacks_files.sh [part of a name…]
 *
 * @module
 */
import { join } from "@std/path";
import { decodeBase64 } from "@std/encoding/base64";
import { JSDOM } from "jsdom";
import {
  calibrateTuning,
  createCalibrationRecord,
  createSigningKey,
  rampCurrent,
  saveCalibrationRecord,
  signCalibrationRecord,
  simulateCapture,
} from "../../lib/mod.ts";
import { addressOf } from "../../lib/kernel/mod.ts";
import {
  createCell,
  type Notebook,
  readNotebook,
  writeNotebook,
} from "../../lib/notebook/mod.ts";
import {
  connectClient,
  connectSocket,
  freeConnection,
} from "../../tests/kernel/transport/zmtp_client.ts";
import { pack, zipOf } from "./bombs.ts";
import { check, demand, finish } from "./tally.ts";

const project = new URL("../../", import.meta.url).pathname;
const folder = await Deno.makeTempDir();
const chosen = Deno.args;
const png = decodeBase64(
  "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==",
);
/** Most memory of a reader that meets a bomb, in MB. */
const mostMemory = 300;

/** Runs a check where its name was chosen, or all are. */
async function attack(name: string, body: () => Promise<void>): Promise<void> {
  if (chosen.length > 0 && !chosen.some((part) => name.includes(part))) return;
  await check(name, body);
}

interface Ended {
  readonly code: number;
  readonly text: string;
}

/** Runs a program; one that hangs is ended after a minute and a half. */
async function run(
  command: string,
  args: readonly string[],
  env: Record<string, string> = {},
): Promise<Ended> {
  const { code, stdout, stderr } = await new Deno.Command(command, {
    args: [...args],
    cwd: project,
    env: { NO_COLOR: "1", XDG_STATE_HOME: join(folder, "state"), ...env },
    signal: AbortSignal.timeout(90_000),
  }).output();
  const decoder = new TextDecoder();
  return { code, text: decoder.decode(stdout) + decoder.decode(stderr) };
}

/** Runs a task of the project. */
function task(name: string, ...args: string[]): Promise<Ended> {
  return run(Deno.execPath(), [
    "run",
    "--no-check",
    "-A",
    `lib/cli/${name}.ts`,
    ...args,
  ]);
}

/** Runs code that has the library at hand, and what it took of memory. */
async function withLibrary(code: string): Promise<Ended & { memory: number }> {
  const path = join(project, `.ci/outside/.attack_${crypto.randomUUID()}.ts`);
  await Deno.writeTextFile(
    path,
    `import * as bench from "../../lib/mod.ts";
import * as captures from "../../lib/doors/capture.ts";
const library = { ...captures, ...bench };
try { ${code} } catch (error) { console.log("REFUSED", error.name, error.message); }
console.log(/VmHWM:\\s+(\\d+)/.exec(Deno.readTextFileSync("/proc/self/status"))[0]);
`,
  );
  try {
    const ended = await run(Deno.execPath(), ["run", "--no-check", "-A", path]);
    const kilobytes = Number(/VmHWM:\s+(\d+)/.exec(ended.text)?.[1] ?? NaN);
    return { ...ended, memory: kilobytes / 1024 };
  } finally {
    await Deno.remove(path);
  }
}

function notebookOf(...cells: Notebook["cells"]): Notebook {
  return { nbformat: 4, nbformat_minor: 5, metadata: {}, cells };
}

await attack(
  "forged page: no field of a notebook sends its reader elsewhere",
  async () => {
    const forged =
      `"><meta http-equiv="refresh" content="0;url=https://x.example"><script>alert(1)</script>`;
    const path = join(folder, "forged.ipynb");
    await writeNotebook(
      path,
      notebookOf(
        {
          ...createCell("code", "1"),
          execution_count: forged as unknown as number,
          outputs: [
            {
              output_type: "display_data",
              data: { "image/png": [forged], "text/plain": forged },
              metadata: { "image/png": { width: forged } },
            },
          ],
        },
        createCell("raw", forged),
        createCell("markdown", forged),
      ),
    );
    const { code, text } = await withLibrary(`
    const { renderPage, readNotebook } = await import("../../lib/notebook/mod.ts");
    const notebook = await readNotebook(${JSON.stringify(path)});
    await Deno.writeTextFile(${
      JSON.stringify(`${path}.html`)
    }, await renderPage(notebook, { path: ${JSON.stringify(path)} }));`);
    demand(code === 0, text);
    const { document } =
      new JSDOM(await Deno.readTextFile(`${path}.html`)).window;
    demand(
      document.querySelectorAll("meta[http-equiv=refresh]").length === 0,
      "the page sends its reader elsewhere",
    );
    demand(
      document.querySelectorAll("script").length === 0,
      "the page holds a script",
    );
  },
);

await attack(
  "private pictures: a page embeds none from elsewhere",
  async () => {
    const home = join(folder, "home");
    const lab = join(home, "lab");
    await Deno.mkdir(lab, { recursive: true });
    await Deno.writeFile(join(home, "private.png"), png);
    await Deno.writeFile(join(lab, "own.png"), png);
    await Deno.symlink(join(home, "private.png"), join(lab, "link.png"));
    await Deno.symlink(home, join(lab, "up"));
    const path = join(lab, "pictures.ipynb");
    const places = ["../private.png", "link.png", "up/private.png"];
    await writeNotebook(
      path,
      notebookOf(
        createCell("code", "1"),
        createCell(
          "markdown",
          [...places, join(home, "private.png"), "own.png"]
            .map((place) => `![x](${place}) <img src="${place}">`).join("\n\n"),
        ),
      ),
    );
    // Links that lead outward may also make the runner refuse the folder.
    const page = path.replace(".ipynb", ".html");
    const { text } = await task("run", path, "--page", "--quiet");
    const html = await Deno.readTextFile(page).catch(() => null);
    if (html === null) {
      demand(/link/i.test(text), `no page and no word on links:\n${text}`);
      return;
    }
    const { document } = new JSDOM(html).window;
    const pictures = document.querySelectorAll("main img").length;
    demand(
      pictures === 2,
      `${pictures} pictures are embedded, own.png twice is 2`,
    );
  },
);

await attack(
  "forged resume: an output that nobody computed is not kept",
  async () => {
    const path = join(folder, "resume.ipynb");
    await writeNotebook(
      path,
      notebookOf(createCell("code", "40 + 2", { id: "a" })),
    );
    const output = join(folder, "executed");
    const again = async () =>
      (await task("run", path, "--output", output, "--resume")).text;
    demand((await again()).includes("ran well"), "it does not run");
    demand((await again()).includes("kept"), "its own result is not kept");
    const executed = join(output, "resume.ipynb");
    const good = await readNotebook(executed);
    const text = await Deno.readTextFile(executed);
    await Deno.writeTextFile(executed, text.replace('"42"', '"43"'));
    demand(!(await again()).includes("kept"), "a changed output was kept");
    const own = good.metadata["fringebook"] as { run: object };
    const fingerprint = (own.run as { fingerprint: string }).fingerprint;
    for (const signature of [undefined, "00".repeat(32)]) {
      await writeNotebook(executed, {
        ...good,
        cells: [{ ...good.cells[0]!, outputs: [] }],
        metadata: {
          fringebook: {
            run: { ...own.run, status: "ok", fingerprint, signature },
          },
        },
      });
      demand(
        !(await again()).includes("kept"),
        `kept with signature ${signature}`,
      );
    }
  },
);

await attack("key of runs: a cell cannot read it, nor a Worker", async () => {
  const state = join(folder, "open");
  await Deno.mkdir(state);
  const path = join(state, "steal.ipynb");
  const read = `Deno.readTextFileSync(${
    JSON.stringify(join(state, "fringebook/run.key"))
  })`;
  const worker = `const code = ${
    JSON.stringify(
      `let said; try { said = "READ " + ${read}; } catch (error) { said = error.name; } postMessage(said);`,
    )
  };
const worker = new Worker(URL.createObjectURL(new Blob([code])), { type: "module" });
await new Promise((done) => { worker.onmessage = ({ data }) => done(data); worker.onerror = (event) => { event.preventDefault(); done("no worker"); }; })`;
  await writeNotebook(
    path,
    notebookOf(
      createCell(
        "code",
        `let said; try { said = "READ " + ${read}; } catch (error) { said = error.name; } said`,
      ),
      createCell("code", worker),
    ),
  );
  // The person's own folder for states is the notebook's: the worst case.
  const { code, text } = await run(
    Deno.execPath(),
    [
      "run",
      "--no-check",
      "-A",
      "lib/cli/run.ts",
      path,
      "--timeout",
      "30",
      "--allow-errors",
    ],
    { XDG_STATE_HOME: state },
  );
  demand(code === 0, text);
  const key = await Deno.readTextFile(join(state, "fringebook/run.key"));
  const { cells } = await readNotebook(path);
  const said = cells.map(({ outputs }) => JSON.stringify(outputs));
  demand(!said.join().includes(key.trim()), "a cell has read the key");
  demand(!said.join().includes("READ"), `a cell has read the file: ${said}`);
  demand(said[0]!.includes("NotCapable"), `the cell says ${said[0]}`);
});

await attack("gzip bomb: refused before memory grows", async () => {
  const path = join(folder, "bomb.csv.gz");
  await pack("gzip", path, 3e9);
  for (
    const call of [
      `await library.readCapture(PATH, { samplingRate: 1 })`,
      `await library.openCaptureStream(PATH, { samplingRate: 1 })`,
      `library.parseCapture(Deno.readFileSync(PATH), { samplingRate: 1 })`,
    ]
  ) {
    const { text, memory } = await withLibrary(
      call.replace("PATH", JSON.stringify(path)),
    );
    demand(text.includes("REFUSED CaptureFormatError"), text);
    demand(memory < mostMemory, `${call} took ${memory} MB`);
  }
  const { code, text } = await task("measure", path, "--wavelength", "650nm");
  demand(code !== 0 && text.includes("after decompression"), text);
});

await attack("gzip just under the ratio: bounded by size, too", async () => {
  // 64 bytes that deflate cannot shorten, then 5000 that it packs into few: some
  // 55 times as many, in all 700 MB of 13 MB.
  const path = join(folder, "dense.csv.gz");
  const random = new Uint8Array(64);
  const filler = new TextEncoder().encode("0\n".repeat(2500));
  let made = 0;
  const bytes = new ReadableStream<Uint8Array<ArrayBuffer>>({
    pull(controller) {
      if (made >= 7e8) return controller.close();
      const block = new Uint8Array(200 * (random.length + filler.length));
      for (let at = 0; at < block.length; at += filler.length) {
        crypto.getRandomValues(random);
        block.set(random, at);
        at += random.length;
        block.set(filler, at);
      }
      made += block.length;
      controller.enqueue(block);
    },
  });
  await bytes.pipeThrough(new CompressionStream("gzip"))
    .pipeTo((await Deno.create(path)).writable);
  const { size } = await Deno.stat(path);
  console.log(`  ${(made / size).toFixed(0)} times ${size} bytes`);
  demand(made / size > 40 && made / size < 100, "not just under the ratio");
  for (
    const call of [
      `await library.readCapture(PATH, { samplingRate: 1 })`,
      `library.parseCapture(Deno.readFileSync(PATH), { samplingRate: 1 })`,
    ]
  ) {
    const { text, memory } = await withLibrary(
      call.replace("PATH", JSON.stringify(path)),
    );
    demand(text.includes("REFUSED CaptureFormatError"), text);
    demand(memory < mostMemory, `${call} took ${memory} MB`);
  }
});

await attack("zip bomb: refused before memory grows", async () => {
  const packed = join(folder, "packed");
  await pack("deflate-raw", packed, 2e9);
  const body = await Deno.readFile(packed);
  const members = (count: number) =>
    zipOf(body, 2e9, Array.from({ length: count }, (_, i) => `a${i}.npy`));
  for (const count of [1, 50]) {
    const path = join(folder, `bomb${count}.npz`);
    await Deno.writeFile(path, members(count));
    for (const call of ["readCapture", "openCaptureStream"]) {
      const { text, memory } = await withLibrary(
        `await library.${call}(${JSON.stringify(path)}, { samplingRate: 1 })`,
      );
      demand(text.includes("REFUSED CaptureFormatError"), text);
      demand(memory < mostMemory, `${call} took ${memory} MB`);
    }
  }
});

await attack(
  "pipes and devices: refused at once by readers and tasks",
  async () => {
    const pipe = join(folder, "pipe.csv");
    await run("mkfifo", [pipe]);
    for (const path of [pipe, "/dev/zero"]) {
      for (
        const call of [
          "readCapture",
          "openCaptureStream",
          "sniffCapture",
          "loadCalibrationRecord",
          "readBatch",
        ]
      ) {
        const { text } = await withLibrary(
          `await library.${call}(${JSON.stringify(path)})`,
        );
        demand(/REFUSED .*a (pipe|device)/.test(text), `${call}: ${text}`);
      }
      const { code, text } = await task(
        "measure",
        path,
        "--wavelength",
        "650nm",
      );
      demand(code !== 0 && /a (pipe|device)/.test(text), text);
    }
    const notebook = join(folder, "pipe.ipynb");
    await run("mkfifo", [notebook]);
    const { code, text } = await task("run", notebook);
    demand(code === 2 && text.includes("a pipe"), text);
  },
);

await attack(
  "strangers at the kernel: parts of messages stay few",
  async () => {
    const info = freeConnection("tcp");
    const file = join(folder, "connection.json");
    await Deno.writeTextFile(file, JSON.stringify(info));
    const kernel = new Deno.Command(Deno.execPath(), {
      args: ["run", "--no-check", "-A", "lib/kernel/launch/main.ts", file],
      cwd: project,
      stdout: "null",
      stderr: "null",
    }).spawn();
    try {
      const client = await patiently(() => connectClient(info));
      await client.beat();
      const before = memoryOf(kernel.pid);
      const part = new Uint8Array(2 ** 20);
      const ports = [info.shell_port, info.control_port, info.stdin_port];
      for (let round = 0; round < 3; round++) {
        await Promise.all(ports.map(async (port) => {
          const stranger = await connectSocket(addressOf(info, port), "DEALER");
          // 200 MB in one message of small parts, none of it signed
          stranger.peer.send(Array.from({ length: 200 }, () => part));
          await Promise.race([
            stranger.gone,
            new Promise((done) => setTimeout(done, 20_000)),
          ]);
          stranger.peer.close();
        }));
      }
      const grown = memoryOf(kernel.pid) - before;
      demand(grown < 150, `the kernel grew by ${grown} MB`);
      await client.beat();
      await client.close();
    } finally {
      kernel.kill("SIGKILL");
      await kernel.status;
    }
  },
);

await attack("full disk: words, and no remains", async () => {
  const disk = await Deno.makeTempDir();
  const mount = await run("mount", [
    ...["-t", "tmpfs", "-o", "size=64k", "tmpfs", disk],
  ]);
  demand(mount.code === 0, `this check must run as root: ${mount.text}`);
  try {
    const calibration = calibrateTuning(
      [0.1, 0.15, 0.2].map((distance) => ({
        distance,
        standardUncertainty: 20e-6,
        capture: simulateCapture({
          distance,
          current: rampCurrent({ low: 0.038, high: 0.042, frequency: 10 }),
          samplingRate: 5e3,
          duration: 0.3,
        }),
      })),
      { wavelength: 650e-9 },
    );
    const record = () =>
      createCalibrationRecord(calibration, {
        title: "A diode",
        operator: null,
        calibratedAt: "2026-11-25T10:00:00Z",
        validUntil: "2027-05-25T00:00:00Z",
      });
    const first = await saveCalibrationRecord(await record(), disk);
    let said = "";
    for (let count = 0; count < 40 && said === ""; count++) {
      try {
        await saveCalibrationRecord(await record(), disk);
      } catch (error) {
        said = `${(error as Error).name}: ${(error as Error).message}`;
      }
    }
    demand(
      said.startsWith("RecordError") && said.includes("the disk is full"),
      `it says: ${said}`,
    );
    // Whatever room is left must not be enough for a signature either.
    const filler = await Deno.open(join(disk, "filler"), {
      write: true,
      create: true,
    });
    try {
      for (;;) await filler.write(new Uint8Array(512));
    } catch {
      filler.close();
    }
    const key = join(folder, "lab.key");
    await createSigningKey(key, "Teaching laboratory");
    let refused = "";
    try {
      await signCalibrationRecord(first, key);
    } catch (error) {
      refused = (error as Error).message;
    }
    demand(refused.includes("the disk is full"), `it says: ${refused}`);
    const names = [...Deno.readDirSync(disk)].map(({ name }) => name);
    const remains = names.filter((name) => !/-r1\.json$|^filler$/.test(name));
    demand(remains.length === 0, `left behind: ${remains}`);
    for (const name of names.filter((name) => name.endsWith(".json"))) {
      JSON.parse(await Deno.readTextFile(join(disk, name)));
    }
  } finally {
    await run("umount", [disk]);
    await Deno.remove(disk);
  }
});

await Deno.remove(folder, { recursive: true });
finish();

/** Resident memory of a process, in MB. */
function memoryOf(pid: number): number {
  const text = Deno.readTextFileSync(`/proc/${pid}/status`);
  return Number(/VmRSS:\s+(\d+)/.exec(text)![1]) / 1024;
}

/** Tries until it works, for a kernel that is starting. */
async function patiently<T>(body: () => Promise<T>): Promise<T> {
  for (let count = 0;; count++) {
    try {
      return await body();
    } catch (error) {
      if (count > 150) throw error;
      await new Promise((done) => setTimeout(done, 200));
    }
  }
}
