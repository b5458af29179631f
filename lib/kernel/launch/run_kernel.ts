import {
  FileHistory,
  type Interpreter,
  type InterpreterOptions,
  Kernel,
  logToStderr,
  MemoryHistory,
} from "../protocol/mod.ts";
import {
  parseConnectionFile,
  PORT_FIELDS,
  SocketTransport,
} from "../transport/mod.ts";
import { parseKernelArguments } from "./arguments.ts";
import { historyFolder } from "./history_folder.ts";
import { watchParent } from "./watch_parent.ts";

/** Makes the interpreter of a kernel. */
export type InterpreterFactory = (
  options: InterpreterOptions,
) => Interpreter | Promise<Interpreter>;

const log = logToStderr;

/** Keeps the kernel alive through what should never happen, and tells it. */
function reportStrayErrors(): void {
  globalThis.addEventListener("unhandledrejection", (event) => {
    event.preventDefault();
    log(`Unexpected: ${event.reason?.stack ?? event.reason}`);
  });
  globalThis.addEventListener("error", (event) => {
    event.preventDefault();
    log(`Unexpected: ${event.error?.stack ?? event.message}`);
  });
}

function listenToSignals(kernel: Kernel): void {
  Deno.addSignalListener("SIGINT", () => void kernel.interrupt());
  if (Deno.build.os === "windows") return;
  Deno.addSignalListener("SIGTERM", () => void kernel.close());
  Deno.addSignalListener("SIGHUP", () => void kernel.close());
}

async function start(
  args: readonly string[],
  create: InterpreterFactory,
): Promise<Kernel> {
  const { connectionFile, grants, memoryLimit } = parseKernelArguments(args);
  const info = parseConnectionFile(await Deno.readTextFile(connectionFile));
  const transport = new SocketTransport(info, log);
  await transport.bind();
  const interpreter = await create({
    folder: Deno.cwd(),
    notebook: Deno.env.get("JPY_SESSION_NAME") ?? null,
    grants,
    memoryLimit,
  });
  const folder = historyFolder();
  const kernel = new Kernel(interpreter, transport, {
    key: info.key,
    signatureScheme: info.signature_scheme,
    history: folder === null
      ? new MemoryHistory()
      : new FileHistory(folder, log),
    ports: Object.fromEntries(PORT_FIELDS.map((field) => [field, info[field]])),
    log,
  });
  await kernel.start();
  return kernel;
}

/**
 * Runs a kernel process until a client, a signal or the parent's death ends it.
 *
 * @param args Connection file, grants and memory limit.
 * @param create Makes the interpreter.
 */
export async function runKernel(
  args: readonly string[],
  create: InterpreterFactory,
): Promise<never> {
  const parent = Deno.ppid;
  reportStrayErrors();
  try {
    const kernel = await start(args, create);
    listenToSignals(kernel);
    if (Deno.env.has("JPY_PARENT_PID")) {
      watchParent(parent, () => {
        log("The process that started this kernel is gone: ending");
        void kernel.close();
      });
    }
    await kernel.ended;
  } catch (error) {
    log((error as Error).message);
    Deno.exit(1);
  }
  Deno.exit(0);
}
