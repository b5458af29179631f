import type { CellRun } from "./cell_run.ts";
import { currentRun } from "./cell_run.ts";

/** Where text goes that no cell wrote. */
export type FallbackRun = () => CellRun | null;

/**
 * Sends `console` and `Deno.stdout`/`Deno.stderr` to the streams of the cell
 * that writes. The originals stay out of the reach of cells.
 *
 * @param fallback The cell that gets what is written outside of all cells.
 */
export function installConsole(fallback: FallbackRun): void {
  const write = (name: "stdout" | "stderr", text: string) =>
    (currentRun() ?? fallback())?.port.publish({ type: "stream", name, text });

  const internal = (Deno as unknown as Record<symbol, InternalDeno>)[
    (Deno as unknown as { internal: symbol }).internal
  ];
  const Console = internal?.Console;
  if (Console) {
    // The runtime's own console, printing elsewhere: 0–1 out, 2–3 errors.
    const own = new Console((text, level) =>
      write(level > 1 ? "stderr" : "stdout", text)
    );
    for (const key of Object.keys(own) as (keyof Console)[]) {
      if (typeof own[key] !== "function") continue;
      (console as unknown as Record<string, unknown>)[key] = own[key];
    }
  }
  console.clear = () =>
    (currentRun() ?? fallback())?.port.publish({
      type: "clear_output",
      wait: false,
    });
  replaceStream("stdout", write);
  replaceStream("stderr", write);
}

interface InternalDeno {
  Console?: new (
    print: (text: string, level: number) => void,
  ) => Console;
}

function replaceStream(
  name: "stdout" | "stderr",
  write: (name: "stdout" | "stderr", text: string) => void,
): void {
  const decoder = new TextDecoder();
  const take = (bytes: Uint8Array) => {
    write(name, decoder.decode(bytes, { stream: true }));
    return bytes.length;
  };
  const replacement = {
    writeSync: take,
    write: (bytes: Uint8Array) => Promise.resolve(take(bytes)),
    isTerminal: () => false,
    close: () => {},
    get writable() {
      return new WritableStream<Uint8Array>({
        write: (part) => void take(part),
      });
    },
  };
  Object.defineProperty(Deno, name, { value: replacement, configurable: true });
}
