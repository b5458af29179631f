/** Bytes written after which it is worth to look again. */
const growth = 16e6;
/** Time between two looks, in ms. */
const interval = 250;

/**
 * What a process holds in files that were removed while they were open: no folder
 * shows them, and they are freed when it ends (Linux; elsewhere nothing is told).
 *
 * @param pid The process.
 * @returns Bytes on the disk.
 */
export function unlinkedBytes(pid: number): number {
  const folder = `/proc/${pid}/fd`;
  const sizes = new Map<string, number>();
  for (const name of namesIn(folder)) {
    const path = `${folder}/${name}`;
    try {
      if (!Deno.readLinkSync(path).endsWith(" (deleted)")) continue;
      const { isFile, dev, ino, size, blocks } = Deno.statSync(path);
      if (isFile) {
        sizes.set(`${dev} ${ino}`, blocks === null ? size : 512 * blocks);
      }
    } catch {
      // It was closed in the meantime.
    }
  }
  return [...sizes.values()].reduce((sum, size) => sum + size, 0);
}

function namesIn(folder: string): string[] {
  try {
    return [...Deno.readDirSync(folder)].map(({ name }) => name);
  } catch {
    return [];
  }
}

/** Looks after a process that could fill the disk where nobody sees it. */
export class UnlinkedFilesWatch {
  readonly #timer: ReturnType<typeof setInterval>;
  #seen = 0;
  #held = 0;

  /**
   * @param pid The process.
   * @param limit Most bytes that it may hold.
   * @param passed Told once what it holds, where that is more.
   */
  constructor(
    private readonly pid: number,
    private readonly limit: number,
    private readonly passed: (bytes: number) => void,
  ) {
    this.#timer = setInterval(() => this.#look(), interval);
    Deno.unrefTimer(this.#timer as unknown as number);
  }

  /** Ends the watch. */
  stop(): void {
    clearInterval(this.#timer);
  }

  #look(): void {
    const written = writtenBy(this.pid);
    if (written === null) return this.stop();
    // What is written is one file to read; the open files are many.
    if (written - this.#seen < Math.min(growth, this.limit) && !this.#held) {
      return;
    }
    this.#seen = written;
    this.#held = unlinkedBytes(this.pid);
    if (this.#held <= this.limit) return;
    this.stop();
    this.passed(this.#held);
  }
}

/** Bytes that a process has handed to the system to be written; `null` if gone. */
function writtenBy(pid: number): number | null {
  try {
    const text = Deno.readTextFileSync(`/proc/${pid}/io`);
    return Number(/^wchar: (\d+)/m.exec(text)?.[1] ?? 0);
  } catch {
    return null;
  }
}
