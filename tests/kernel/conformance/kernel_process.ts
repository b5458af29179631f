import type { ConnectionInfo } from "../../../lib/kernel/mod.ts";
import { connectClient, freeConnection } from "../transport/zmtp_client.ts";
import { CheckedClient } from "./checked_client.ts";

/** A kernel process whose cells are a few words. */
export interface KernelProcess {
  readonly child: Deno.ChildProcess;
  readonly info: ConnectionInfo;
  /** Connects once the kernel listens. */
  connect(): Promise<CheckedClient>;
}

/** A kernel whose cells are a few words. */
export const WORD_KERNEL: string =
  new URL("./echo_main.ts", import.meta.url).href;

/** The kernel that is installed. */
export const KERNEL: string =
  new URL("../../../lib/kernel/launch/main.ts", import.meta.url).href;

/** Writes a connection file and gives its path. */
export function writeConnectionFile(info: ConnectionInfo): string {
  const path = Deno.makeTempFileSync({ suffix: ".json" });
  Deno.writeTextFileSync(path, JSON.stringify(info));
  return path;
}

/** Starts a kernel process on the given connection. */
export function startProcess(
  info: ConnectionInfo = freeConnection("tcp"),
  options: { script?: string; args?: string[]; cwd?: string } = {},
): KernelProcess {
  const { script = WORD_KERNEL, args = [], cwd = Deno.cwd() } = options;
  const child = new Deno.Command(Deno.execPath(), {
    args: [
      "run",
      "-A",
      "--no-check",
      script,
      ...args,
      writeConnectionFile(info),
    ],
    env: { FRINGEBOOK_HISTORY: "off" },
    cwd,
    stdin: "null",
    stdout: "null",
    stderr: "inherit",
  }).spawn();
  return {
    child,
    info,
    connect: async () => {
      for (let n = 0;; n++) {
        try {
          return new CheckedClient(await connectClient(info), info.key);
        } catch (error) {
          // Half a minute: on a fresh machine everything is compiled at once.
          if (n === 1200) throw error;
          await new Promise((resolve) => setTimeout(resolve, 25));
        }
      }
    },
  };
}

/** Ends a kernel as clients do, and checks that it ended well. */
export async function shutDown(
  process: KernelProcess,
  client: CheckedClient,
  restart = false,
): Promise<void> {
  await client.request("shutdown_request", { restart }, {
    channel: "control",
  });
  const { code } = await process.child.status;
  await client.close();
  if (code !== 0) throw new Error(`the kernel ended with code ${code}`);
  if (client.faults.length > 0) throw new Error(client.faults.join("\n"));
}
