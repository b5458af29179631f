/** One cell that was run: session, line in the session, text, result's text. */
export interface HistoryEntry {
  /** Number of the session. */
  readonly session: number;
  /** Number of the cell in its session. */
  readonly line: number;
  /** Code of the cell. */
  readonly input: string;
  /** Text of its result; `null` where it had none. */
  readonly output: string | null;
}

/** Keeps what was run. */
export interface HistoryStore {
  /** Notes a cell as it starts; the line is its execution count. */
  recordInput(line: number, input: string): void;
  /** Notes the text of a cell's result. */
  recordOutput(line: number, output: string): void;
  /** Number of the running session; settled once its first cell is noted. */
  currentSession(): Promise<number>;
  /** Entries of the given session, `[]` where it is not known. */
  session(number: number): Promise<readonly HistoryEntry[]>;
  /** Sessions known, oldest first, the running one last. */
  sessions(): Promise<readonly number[]>;
  /** Ends; what was noted is safe afterwards. */
  close(): Promise<void>;
}

/** Cells of one session, in order; a line may be noted again. */
export class SessionLines {
  readonly #lines = new Map<
    number,
    { line: number; input: string; output: string | null }
  >();

  recordInput(line: number, input: string): void {
    this.#lines.set(line, { line, input, output: null });
  }

  recordOutput(line: number, output: string): void {
    const entry = this.#lines.get(line);
    if (entry !== undefined) entry.output = output;
  }

  entries(session: number): HistoryEntry[] {
    return [...this.#lines.values()].map((entry) => ({ session, ...entry }));
  }
}

/** History of the running session only. */
export class MemoryHistory implements HistoryStore {
  readonly #lines = new SessionLines();

  recordInput(line: number, input: string): void {
    this.#lines.recordInput(line, input);
  }
  recordOutput(line: number, output: string): void {
    this.#lines.recordOutput(line, output);
  }
  currentSession(): Promise<number> {
    return Promise.resolve(1);
  }
  session(number: number): Promise<HistoryEntry[]> {
    return Promise.resolve(number === 1 ? this.#lines.entries(1) : []);
  }
  sessions(): Promise<number[]> {
    return Promise.resolve([1]);
  }
  close(): Promise<void> {
    return Promise.resolve();
  }
}
