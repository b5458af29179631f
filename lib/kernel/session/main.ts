/**
 * The process in which cells run. It speaks frames over its standard streams
 * with its owner and is started with few permissions; see `client.ts`.
 *
 * @module
 */
import type { CommMessage, ExecuteRequest } from "../protocol/interpreter.ts";
import {
  CellInterpreter,
  type CellPort,
  checkInterrupt,
  completenessOf,
  KeyboardInterrupt,
  setInterruptProbe,
} from "../interpreter/mod.ts";
import { setCheckpointHandler } from "../../progress/mod.ts";
import { setPictureMaker } from "../../display/picture/mod.ts";
import { setPackageFetcher } from "../../runtime/mod.ts";
import { installEnvironmentGuard } from "./environment_guard.ts";
import type { Frame } from "./frames.ts";
import { OutputWriter } from "./output_writer.ts";
import { refusalHint } from "./refusal.ts";
import { WorkProgress } from "./work_progress.ts";
import { createSharedState, inputState, slot } from "./shared_state.ts";

/** What the owner gives on the command line, as JSON. */
export interface SessionSettings {
  /** URL of the notebook's folder, with a slash at the end. */
  readonly baseUrl: string;
  /** Largest resident memory, in bytes. */
  readonly memoryLimit: number;
  /** The file in which the person grants more. */
  readonly grantFile: string;
  /** The configuration file with the import map. */
  readonly configFile: string;
  /** Whether the person granted "sys". */
  readonly keepSys: boolean;
  /** Whether the owner has figures drawn. */
  readonly drawsOutside: boolean;
}

type Message = Record<string, unknown>;

const settings = JSON.parse(Deno.args[0] ?? "{}") as SessionSettings;
const exit = Deno.exit.bind(Deno);
const writer = new OutputWriter(Deno.stdout.writeSync.bind(Deno.stdout));
const shared = createSharedState();
const control = new Int32Array(shared.control);
const decoder = new TextDecoder();
const encoder = new TextEncoder();
const inputs = new Map<
  number,
  { resolve: (value: string) => void; reject: (error: unknown) => void }
>();
let nextInput = 0;
const fetches = new Map<
  number,
  { resolve: () => void; reject: (error: unknown) => void }
>();
let nextFetch = 0;
const drawings = new Map<number, (parts: readonly Uint8Array[]) => void>();
let nextDrawing = 0;
let sequence = 0;

// The listener comes first: the runtime takes a second to start a thread once
// the engine is connected.
const listener = new Worker(new URL("./listener.ts", import.meta.url), {
  type: "module",
});
await new Promise((resolve) => listener.onmessage = resolve);

const interpreter = new CellInterpreter({
  baseUrl: settings.baseUrl,
  refusalHint: (error) => refusalHint(error, settings.grantFile),
  config: readConfig(settings.configFile),
  // Loaded when the first value comes that it may know.
  viewer: async (value) => {
    const { bundleOfKnown } = await import("../../display/mod.ts");
    return await bundleOfKnown(value);
  },
});

setInterruptProbe(() => {
  if (Atomics.load(control, slot.orphaned) === 1) return true;
  const wanted = Atomics.load(control, slot.interrupt);
  // Between cells it is a timer that keeps the next cell from starting.
  return wanted !== 0 && (sequence === 0 || wanted === sequence);
});
const progress = new WorkProgress();
setCheckpointHandler((fraction, work) => {
  checkInterrupt();
  progress.at(fraction, work);
});
setPackageFetcher((name) =>
  new Promise((resolve, reject) => {
    const id = ++nextFetch;
    fetches.set(id, { resolve, reject });
    writer.send({ type: "fetch", id, name });
  })
);
if (settings.drawsOutside) {
  setPictureMaker(async (json, scale) => {
    const id = ++nextDrawing;
    const [svg, png] = await new Promise<readonly Uint8Array[]>((resolve) => {
      drawings.set(id, resolve);
      writer.send({ type: "draw", id, scale }, [encoder.encode(json)]);
    });
    return svg && png ? { svg: decoder.decode(svg), png } : null;
  });
}

function portOf(request: string): CellPort {
  return {
    publish: (output) => writer.output(request, output),
    requestInput: (prompt, password) =>
      new Promise((resolve, reject) => {
        const id = ++nextInput;
        inputs.set(id, { resolve, reject });
        writer.send({ type: "input", id, request, prompt, password });
      }),
    requestInputNow: (prompt, password) => {
      const id = ++nextInput;
      Atomics.store(control, slot.input, inputState.waiting);
      writer.send({ type: "input", id, request, prompt, password });
      Atomics.wait(control, slot.input, inputState.waiting);
      const state = Atomics.exchange(control, slot.input, inputState.none);
      if (state === inputState.interrupted) throw new KeyboardInterrupt();
      const length = Atomics.load(control, slot.inputLength);
      const text = decoder.decode(new Uint8Array(shared.text).slice(0, length));
      if (state === inputState.refused) throw new InputRefused(text);
      return text;
    },
  };
}

/** The person cannot be asked: nobody is there, or it is not allowed. */
class InputRefused extends Error {
  override readonly name = "InputRefused";
}

const handlers: Record<string, (message: Message) => unknown> = {
  execute: async (message) => {
    sequence = message["sequence"] as number;
    const request = message["request"] as ExecuteRequest;
    const port = portOf(message["requestId"] as string);
    if (!request.silent) progress.begin(port.publish);
    let isComplete = false;
    try {
      const outcome = await interpreter.execute(request, port);
      isComplete = outcome.status === "ok";
      return outcome;
    } finally {
      progress.end(isComplete);
      sequence = 0;
    }
  },
  complete: ({ code, cursor }) =>
    interpreter.complete(code as string, cursor as number),
  inspect: ({ code, cursor, detail }) =>
    interpreter.inspect(code as string, cursor as number, detail as 0 | 1),
  is_complete: ({ code }) => completenessOf(code as string),
  comm: async (message) => {
    sequence = message["sequence"] as number;
    const comm = {
      ...message["comm"] as CommMessage,
      buffers: message["buffers"] as Uint8Array[],
    };
    try {
      return await interpreter.comm(
        comm,
        portOf(message["requestId"] as string),
      );
    } finally {
      sequence = 0;
    }
  },
};

async function answer(message: Message): Promise<void> {
  const id = message["id"];
  const handler = handlers[message["type"] as string];
  if (!handler) return;
  let reply: Message;
  try {
    reply = { type: "reply", id, value: await handler(message) };
  } catch (error) {
    reply = { type: "reply", id, error: String(error) };
  }
  reply["comms"] = [...interpreter.comms.open];
  writer.send(reply);
}

function take({ message, buffers }: Frame): void {
  switch (message["type"]) {
    case "orphaned":
      exit(0);
      break;
    case "close":
      exit(0);
      break;
    case "interrupt":
      // The loop that was busy has ended: the flag has done its work.
      if (message["sequence"] === sequence && interpreter.interrupt()) {
        writer.send({ type: "heard" });
      }
      Atomics.store(control, slot.interrupt, 0);
      break;
    case "input_reply": {
      const id = message["id"] as number;
      const waiting = inputs.get(id);
      inputs.delete(id);
      if ("error" in message) {
        waiting?.reject(new InputRefused(String(message["error"])));
      } else waiting?.resolve(String(message["value"]));
      break;
    }
    case "fetched": {
      const id = message["id"] as number;
      const waiting = fetches.get(id);
      fetches.delete(id);
      if (message["error"] === null) waiting?.resolve();
      else waiting?.reject(new TypeError(String(message["error"])));
      break;
    }
    case "drawn": {
      const id = message["id"] as number;
      drawings.get(id)?.(buffers);
      drawings.delete(id);
      break;
    }
    default:
      void answer({ ...message, buffers });
  }
}

function readConfig(path: string): string | null {
  try {
    return Deno.readTextFileSync(path);
  } catch {
    return null;
  }
}

/**
 * Ends the session for a cell. The owner does it: the runtime cannot end a
 * process while its engine runs a script.
 */
function leave(code = 0): void {
  writer.send({ type: "exit", code });
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0);
}

async function main(): Promise<void> {
  // Servers send SIGINT to the whole group of processes; the owner interrupts
  Deno.addSignalListener("SIGINT", () => {});
  listener.onmessage = (event) => take(event.data as Frame);
  listener.postMessage({ ...shared, memoryLimit: settings.memoryLimit });
  await interpreter.start();
  // The engine is connected; cells do not get what it needed.
  if (!settings.keepSys) await Deno.permissions.revoke({ name: "sys" });
  installEnvironmentGuard();
  // A signal to the whole group is the owner's affair; it tells this process.
  Deno.addSignalListener("SIGINT", () => {});
  Object.defineProperty(Deno, "exit", { value: leave });
  Object.defineProperty(process, "exit", { value: leave });
  Object.defineProperty(process, "reallyExit", { value: leave });
  Object.defineProperty(Deno, "args", { value: [] });
  Object.defineProperty(Deno, "stdin", { value: emptyInput });
  forbidStorage();
  writer.send({ type: "ready", version: Deno.version });
}

/** What browsers keep for a site would be kept for all notebooks at once. */
function forbidStorage(): void {
  const scope = globalThis as unknown as Record<string, unknown>;
  for (const name of ["localStorage", "caches"]) delete scope[name];
}

const emptyInput = {
  read: () => Promise.resolve(null),
  readSync: () => null,
  isTerminal: () => false,
  setRaw: () => {},
  close: () => {},
  get readable() {
    return new ReadableStream({ start: (controller) => controller.close() });
  },
};

await main();
