/**
 * The kernel that is installed, as a notebook server starts it, for hostile
 * cells.
 *
 * @module
 */
import { join } from "@std/path";
import type { Exchange, JsonObject } from "../../lib/kernel/mod.ts";
import { KernelClient } from "../../lib/kernel/mod.ts";
import {
  connectClient,
  freeConnection,
} from "../../tests/kernel/transport/zmtp_client.ts";

/** What a cell gave. */
export interface Ran {
  /** Result, streams and error, as a person reads them. */
  readonly text: string;
  readonly status: string;
}

/** Options of {@linkcode HostileKernel.start}. */
export interface HostileKernelOptions {
  folder: string;
  /** Flags at the end of the kernelspec's command, as grants are. */
  flags?: readonly string[];
  env?: Readonly<Record<string, string>>;
}

/** A kernel process and its client. */
export class HostileKernel {
  private constructor(
    readonly child: Deno.ChildProcess,
    readonly client: KernelClient,
  ) {}

  /** Starts what `kernel.json` says in a folder, with the grants given. */
  static async start(options: HostileKernelOptions): Promise<HostileKernel> {
    const { folder, flags = [], env = {} } = options;
    const data = Deno.env.get("JUPYTER_DATA_DIR");
    if (!data) throw new Error("run this with .ci/outside/with_kernel");
    const { argv } = JSON.parse(
      await Deno.readTextFile(join(data, "kernels/fringebook/kernel.json")),
    ) as { argv: string[] };
    const info = freeConnection("tcp");
    const connection = await Deno.makeTempFile({ suffix: ".json" });
    await Deno.writeTextFile(connection, JSON.stringify(info));
    const [program, ...args] = argv;
    const child = new Deno.Command(program!, {
      args: [...args.slice(0, -1), ...flags, connection],
      cwd: folder,
      env: { FRINGEBOOK_HISTORY: "off", ...env },
      stdin: "null",
      stdout: "null",
      stderr: "null",
    }).spawn();
    for (let n = 0;; n++) {
      try {
        const client = new KernelClient(await connectClient(info), info);
        return new HostileKernel(child, client);
      } catch (error) {
        if (n === 400) throw error;
        await new Promise((resolve) => setTimeout(resolve, 50));
      }
    }
  }

  async run(code: string): Promise<Ran> {
    const { reply, published }: Exchange = await this.client.execute(code);
    const parts = published.flatMap(({ header, content }) => {
      switch (header.msg_type) {
        case "stream":
          return [String(content["text"])];
        case "execute_result":
          return [String((content["data"] as JsonObject)["text/plain"])];
        case "error":
          return [`${content["ename"]}: ${content["evalue"]}`];
        default:
          return [];
      }
    });
    return {
      text: parts.join("\n"),
      status: String(reply?.content["status"]),
    };
  }

  async stop(): Promise<void> {
    this.child.kill("SIGTERM");
    await this.child.status;
    await this.client.close();
  }
}

/** The body of an attack as the code of a cell. */
export function inCell(body: string): string {
  return `await (async () => {\n${body}\n})()`;
}

/** The same in a worker of the cell. */
export function inWorker(body: string): string {
  const code = `const end = (text) => self.postMessage(String(text));
     (async () => {\n${body}\n})().then(end, (error) => end(error.name + ": " + error.message));`;
  return `await new Promise((resolve) => {
    const worker = new Worker(
      URL.createObjectURL(new Blob([${
    JSON.stringify(code)
  }], { type: "text/javascript" })),
      { type: "module" },
    );
    worker.onmessage = (event) => { resolve(event.data); worker.terminate(); };
    worker.onerror = (event) => { event.preventDefault(); resolve("worker failed: " + event.message); };
  })`;
}
