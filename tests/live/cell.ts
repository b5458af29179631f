/**
 * What a live view has around it in a test: a cell, a pipe.
 *
 * @module
 */
const hook = Symbol.for("fringebook.cell");

/** What a cell publishes. */
export interface Published {
  readonly type: string;
  readonly displayId: string;
  readonly data: Record<string, string>;
}

/** Runs work as a cell would; gives what it published, and its stop button. */
export async function inCell<T>(
  work: (stop: () => void) => Promise<T>,
  answers: string[] = [],
): Promise<{ value: T; outputs: Published[] }> {
  const outputs: Published[] = [];
  let stop = () => {};
  (globalThis as Record<symbol, unknown>)[hook] = {
    publish: (output: Published) => outputs.push(output),
    onInterrupt: (next: () => void) => {
      stop = next;
      return () => stop = () => {};
    },
    requestInput: () => Promise.resolve(answers.shift() ?? "end"),
  };
  try {
    return { value: await work(() => stop()), outputs };
  } finally {
    delete (globalThis as Record<symbol, unknown>)[hook];
  }
}

/** Makes a named pipe. */
export async function makePipe(path: string): Promise<void> {
  const { success } = await new Deno.Command("mkfifo", { args: [path] })
    .output();
  if (!success) throw new Error(`no pipe at ${path}`);
}
