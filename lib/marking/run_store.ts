import { join } from "@std/path";
import { LineFile } from "../files/mod.ts";
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
    private readonly lines: LineFile,
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
    const lock = await Deno.open(join(folder, ".marking.lock"), {
      write: true,
      create: true,
    });
    if (!await lock.tryLock(true)) {
      lock.close();
      throw new Deno.errors.Busy(
        `Cannot mark into '${folder}' as another marking writes there: wait for it, or choose another folder`,
      );
    }
    const path = join(folder, "hand_ins.jsonl");
    const lines = await LineFile.open(path, { sync: true, mode: 0o600 });
    const store = new RunStore(lines, lock);
    const text = await Deno.readTextFile(path);
    for (const line of text.split("\n")) store.#take(line);
    return store;
  }

  /** The last run of a folder; `null` if there was none. */
  find(folder: string): StoredRun | null {
    return this.#runs.get(folder) ?? null;
  }

  /** Adds a run; it is on the disk when this resolves. */
  async add(stored: StoredRun): Promise<void> {
    this.#runs.set(stored.folder, stored);
    await this.lines.add(JSON.stringify(stored));
  }

  close(): void {
    this.lines.close();
    this.lock.close();
  }

  #take(line: string): void {
    try {
      const { folder, limits, run } = JSON.parse(line) as StoredRun;
      const answers = Object.fromEntries(
        Object.entries(run.answers).map(([name, answer]) => [name, {
          ...answer,
          // JSON has no NaN
          value: answer.value ?? NaN,
          standardUncertainty: answer.standardUncertainty ?? NaN,
        }]),
      );
      this.#runs.set(folder, { folder, limits, run: { ...run, answers } });
    } catch {
      // Torn, or no line of ours: that hand-in is run again
    }
  }
}
