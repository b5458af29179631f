import { join } from "@std/path";
import type { HandInLimits, HandInRun } from "./hand_in/mod.ts";

/** A line of the store: a hand-in that was run, and with which limits. */
export interface StoredRun {
  readonly folder: string;
  readonly limits: HandInLimits;
  readonly run: HandInRun;
}

/**
 * The hand-ins that were run so far, one line of JSON each, in a file that grows
 * by a line per hand-in. A marking that is stopped goes on where it was, and one
 * with other points needs no second run.
 */
export class RunStore {
  readonly #runs = new Map<string, StoredRun>();

  private constructor(
    private readonly file: Deno.FsFile,
    private readonly lock: Deno.FsFile,
  ) {}

  /**
   * Opens the store of a folder; nobody else can until it is closed, or the
   * process ends however it may.
   *
   * @param folder Folder of the marks.
   * @throws {Deno.errors.Busy} If another marking writes there.
   */
  static async open(folder: string): Promise<RunStore> {
    await Deno.mkdir(folder, { recursive: true, mode: 0o700 });
    const options = { read: true, write: true, create: true, mode: 0o600 };
    const lock = await Deno.open(join(folder, ".marking.lock"), options);
    if (!await lock.tryLock(true)) {
      lock.close();
      throw new Deno.errors.Busy(
        `Cannot mark into '${folder}' as another marking writes there: wait for it, or choose another folder`,
      );
    }
    const path = join(folder, "hand_ins.jsonl");
    const file = await Deno.open(path, options);
    const store = new RunStore(file, lock);
    const text = await Deno.readTextFile(path);
    for (const line of text.split("\n")) store.#take(line);
    await file.seek(0, Deno.SeekMode.End);
    // A run that was killed may have left half a line
    if (text !== "" && !text.endsWith("\n")) await store.#write("\n");
    return store;
  }

  /** The last run of a folder; `null` if there was none. */
  find(folder: string): StoredRun | null {
    return this.#runs.get(folder) ?? null;
  }

  /** Adds a run; it is on the disk when this resolves. */
  async add(stored: StoredRun): Promise<void> {
    this.#runs.set(stored.folder, stored);
    await this.#write(JSON.stringify(stored) + "\n");
  }

  close(): void {
    this.file.close();
    this.lock.close();
  }

  async #write(text: string): Promise<void> {
    const bytes = new TextEncoder().encode(text);
    for (let at = 0; at < bytes.length;) {
      at += await this.file.write(bytes.subarray(at));
    }
    await this.file.sync();
  }

  #take(line: string): void {
    try {
      const { folder, limits, run } = JSON.parse(line) as StoredRun;
      const answers = Object.fromEntries(
        Object.entries(run.answers).map(([name, answer]) => [name, {
          ...answer,
          // JSON has no NaN
          standardUncertainty: answer.standardUncertainty ?? NaN,
        }]),
      );
      this.#runs.set(folder, { folder, limits, run: { ...run, answers } });
    } catch {
      // Torn, or no line of ours: that hand-in is run again
    }
  }
}
