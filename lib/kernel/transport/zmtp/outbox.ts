import { joinBlocks } from "./frame.ts";

/** Small blocks are joined up to this many bytes per write. */
const WRITE_SIZE = 65_536;

/** Where bytes go. */
export interface ByteSink {
  write(bytes: Uint8Array): Promise<number>;
}

/** Writes blocks in order without anybody waiting for the peer. */
export class Outbox {
  readonly #sink: ByteSink;
  readonly #failed: (error: Error) => void;
  #blocks: Uint8Array[] = [];
  #next = 0;
  #writing = false;
  #closed = false;
  #waiting: (() => void)[] = [];

  /** Bytes that have not left. */
  pendingBytes = 0;

  /**
   * @param sink Where bytes go.
   * @param failed Told once when a write fails.
   */
  constructor(sink: ByteSink, failed: (error: Error) => void) {
    this.#sink = sink;
    this.#failed = failed;
  }

  /** Adds blocks; they leave in order. */
  add(blocks: readonly Uint8Array[]): void {
    if (this.#closed) return;
    for (const block of blocks) {
      this.#blocks.push(block);
      this.pendingBytes += block.length;
    }
    if (!this.#writing) void this.#write();
  }

  /** Resolves when at most that many bytes have not left, or it is closed. */
  async below(bytes: number): Promise<void> {
    while (!this.#closed && this.pendingBytes > bytes) {
      await new Promise<void>((resolve) => this.#waiting.push(resolve));
    }
  }

  /** Drops what has not left. */
  close(): void {
    this.#closed = true;
    this.#blocks = [];
    this.#next = 0;
    this.pendingBytes = 0;
    this.#wake();
  }

  #wake(): void {
    const waiting = this.#waiting;
    this.#waiting = [];
    for (const resolve of waiting) resolve();
  }

  /** Next bytes to write: one large block, or several small ones joined. */
  #take(): Uint8Array {
    const taken: Uint8Array[] = [];
    let size = 0;
    while (this.#next < this.#blocks.length) {
      const block = this.#blocks[this.#next]!;
      if (taken.length > 0 && size + block.length > WRITE_SIZE) break;
      taken.push(block);
      size += block.length;
      this.#next++;
    }
    if (this.#next === this.#blocks.length) {
      this.#blocks = [];
      this.#next = 0;
    } else if (this.#next > 1024) {
      this.#blocks = this.#blocks.slice(this.#next);
      this.#next = 0;
    }
    return joinBlocks(taken);
  }

  async #write(): Promise<void> {
    this.#writing = true;
    try {
      while (this.#blocks.length > 0) {
        const bytes = this.#take();
        let written = 0;
        while (written < bytes.length && !this.#closed) {
          const count = await this.#sink.write(bytes.subarray(written));
          written += count;
          this.pendingBytes -= count;
        }
        if (this.#closed) return;
        if (this.#waiting.length > 0) this.#wake();
      }
    } catch (error) {
      if (!this.#closed) this.#failed(error as Error);
    } finally {
      this.#writing = false;
    }
  }
}
