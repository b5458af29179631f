/**
 * Thread of a session that listens to the owner: passes messages on to the
 * thread that runs cells, and sets the shared flags that a busy cell reads.
 *
 * @module
 */
import { type Frame, FrameReader } from "./frames.ts";
import { inputState, type SharedState, slot } from "./shared_state.ts";

interface Port {
  onmessage: ((event: MessageEvent) => void) | null;
  postMessage(message: unknown): void;
}

const port = self as unknown as Port;

port.postMessage({ message: { type: "listening" }, buffers: [] });
port.onmessage = (event) => {
  port.onmessage = null;
  const { control, text, memoryLimit } = event.data as SharedState & {
    memoryLimit: number;
  };
  void listen(new Int32Array(control), new Uint8Array(text));
  setInterval(() => watchMemory(memoryLimit), 200);
};

async function listen(control: Int32Array, text: Uint8Array): Promise<void> {
  const reader = new FrameReader();
  const bytes = new Uint8Array(65536);
  for (;;) {
    const count = await Deno.stdin.read(bytes).catch(() => null);
    if (count === null) break;
    for (const frame of reader.push(bytes.slice(0, count))) {
      take(frame, control, text);
    }
  }
  Atomics.store(control, slot.orphaned, 1);
  wake(control, inputState.interrupted);
  port.postMessage({ message: { type: "orphaned" }, buffers: [] });
}

function take(frame: Frame, control: Int32Array, text: Uint8Array): void {
  const { message } = frame;
  if (message["type"] === "interrupt") {
    Atomics.store(control, slot.interrupt, message["sequence"] as number);
    wake(control, inputState.interrupted);
  }
  const waits = Atomics.load(control, slot.input) === inputState.waiting;
  if (message["type"] === "input_reply" && waits) {
    const value = message["error"] ?? message["value"];
    const answer = new TextEncoder().encode(String(value));
    const length = Math.min(answer.length, text.length);
    text.set(answer.subarray(0, length));
    Atomics.store(control, slot.inputLength, length);
    wake(
      control,
      "error" in message ? inputState.refused : inputState.answered,
    );
    return;
  }
  port.postMessage(frame);
}

function wake(control: Int32Array, state: number): void {
  if (Atomics.load(control, slot.input) !== inputState.waiting) return;
  Atomics.store(control, slot.input, state);
  Atomics.notify(control, slot.input);
}

/** Tells the owner, on the error stream, that too much memory is in use. */
function watchMemory(limit: number): void {
  const { rss } = Deno.memoryUsage();
  if (rss > limit) {
    const line = `\x01fringebook-memory ${rss}\n`;
    Deno.stderr.writeSync(new TextEncoder().encode(line));
  }
}
