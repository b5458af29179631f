import { readTextUpTo } from "../../runtime/mod.ts";
import {
  type HistoryEntry,
  type HistoryStore,
  SessionLines,
} from "./history.ts";
import type { Log } from "./log.ts";

/** Sessions kept; older files are removed. */
const SESSIONS_KEPT = 1000;
/** What is kept of one result's text, in characters. */
const OUTPUT_KEPT = 2000;

/** Longest file of a session that is read again, in bytes. */
const LONGEST_FILE = 1e8;

const FILE_NAME = /^(\d{6,})\.jsonl$/;

/**
 * History kept across sessions: one file per session, so that kernels that run
 * at once never meet; a line of JSON per cell, added as the cell starts, so that
 * a crash loses nothing. Where the folder cannot be written, the running session
 * is kept in memory and the log says so.
 */
export class FileHistory implements HistoryStore {
  readonly #folder: string;
  readonly #log: Log;
  readonly #lines = new SessionLines();
  readonly #read = new Map<number, HistoryEntry[]>();
  #file: Deno.FsFile | null = null;
  #current: Promise<number> | null = null;
  #writes: Promise<void> = Promise.resolve();
  #broken = false;

  /**
   * History that is kept in the files of a folder.
   *
   * @param folder Folder of the session files; made when first needed.
   * @param log Where trouble is told.
   */
  constructor(folder: string, log: Log) {
    this.#folder = folder;
    this.#log = log;
  }

  recordInput(line: number, input: string): void {
    this.#lines.recordInput(line, input);
    this.#append({ line, input });
  }

  recordOutput(line: number, output: string): void {
    const kept = output.length > OUTPUT_KEPT
      ? `${output.slice(0, OUTPUT_KEPT)}…`
      : output;
    this.#lines.recordOutput(line, kept);
    this.#append({ line, output: kept });
  }

  async currentSession(): Promise<number> {
    return await (this.#current ?? this.#nextNumber());
  }

  async sessions(): Promise<number[]> {
    const current = await this.currentSession();
    const others = (await this.#numbers()).filter((n) => n !== current);
    return [...others, current];
  }

  async session(number: number): Promise<readonly HistoryEntry[]> {
    if (number === await this.currentSession()) {
      return this.#lines.entries(number);
    }
    let entries = this.#read.get(number);
    if (entries === undefined) {
      entries = await this.#readFile(number);
      this.#read.set(number, entries);
    }
    return entries;
  }

  async close(): Promise<void> {
    await this.#writes;
    this.#file?.close();
    this.#file = null;
  }

  #path(number: number): string {
    return `${this.#folder}/${String(number).padStart(6, "0")}.jsonl`;
  }

  async #numbers(): Promise<number[]> {
    const numbers: number[] = [];
    try {
      for await (const entry of Deno.readDir(this.#folder)) {
        const match = FILE_NAME.exec(entry.name);
        if (match !== null) numbers.push(Number(match[1]));
      }
    } catch {
      return [];
    }
    return numbers.sort((a, b) => a - b);
  }

  /** The number that a session would get that begins now. */
  async #nextNumber(): Promise<number> {
    return ((await this.#numbers()).at(-1) ?? 0) + 1;
  }

  /** Takes the next free number; the file's creation is what takes it. */
  async #begin(): Promise<number> {
    try {
      await Deno.mkdir(this.#folder, { recursive: true, mode: 0o700 });
      const numbers = await this.#numbers();
      let number = numbers.at(-1) ?? 0;
      while (this.#file === null) {
        number++;
        try {
          this.#file = await Deno.open(this.#path(number), {
            createNew: true,
            append: true,
            mode: 0o600,
          });
        } catch (error) {
          if (!(error instanceof Deno.errors.AlreadyExists)) throw error;
        }
      }
      const surplus = Math.max(0, numbers.length + 1 - SESSIONS_KEPT);
      for (const old of numbers.slice(0, surplus)) {
        await Deno.remove(this.#path(old)).catch(() => {});
      }
      return number;
    } catch (error) {
      this.#giveUp(error);
      return await this.#nextNumber();
    }
  }

  #append(record: unknown): void {
    this.#current ??= this.#begin();
    this.#writes = this.#writes.then(async () => {
      await this.#current;
      if (this.#file === null || this.#broken) return;
      try {
        const bytes = new TextEncoder().encode(`${JSON.stringify(record)}\n`);
        let written = 0;
        while (written < bytes.length) {
          written += await this.#file.write(bytes.subarray(written));
        }
      } catch (error) {
        this.#giveUp(error);
      }
    });
  }

  async #readFile(number: number): Promise<HistoryEntry[]> {
    const lines = new SessionLines();
    let text = "";
    try {
      text = await readTextUpTo(this.#path(number), LONGEST_FILE);
    } catch {
      return [];
    }
    for (const row of text.split("\n")) {
      try {
        const { line, input, output } = JSON.parse(row);
        if (typeof line !== "number") continue;
        if (typeof input === "string") lines.recordInput(line, input);
        if (typeof output === "string") lines.recordOutput(line, output);
      } catch {
        // the last line of a session that was cut off
      }
    }
    return lines.entries(number);
  }

  #giveUp(error: unknown): void {
    if (this.#broken) return;
    this.#broken = true;
    this.#log(
      `Cannot keep the history in '${this.#folder}': ${
        (error as Error).message
      }. It is kept until the kernel ends`,
    );
  }
}
