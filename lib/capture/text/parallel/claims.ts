/**
 * Who parses which piece of a file: this thread takes pieces from the front, in
 * order; workers take them from the back. Both counts lie in one shared word, so
 * that no piece is taken twice.
 */
export class Claims {
  /** Shared memory, to give to workers. */
  readonly memory: SharedArrayBuffer;
  readonly #word: Int32Array;
  readonly #count: number;

  /**
   * @param count Number of pieces, at most 32767.
   * @param memory Memory of the same claims in another thread.
   */
  constructor(count: number, memory = new SharedArrayBuffer(4)) {
    this.memory = memory;
    this.#word = new Int32Array(memory);
    this.#count = count;
  }

  /** Takes the next piece from the front; -1 if none is left. */
  front(): number {
    return this.#take(1, (word) => word & 0xffff);
  }

  /** Takes the next piece from the back; -1 if none is left. */
  back(): number {
    return this.#take(0x10000, (word) => this.#count - 1 - (word >>> 16));
  }

  /** Leaves nothing to take, so that workers end. */
  stop(): void {
    Atomics.store(this.#word, 0, this.#count);
  }

  #take(step: number, piece: (word: number) => number): number {
    for (;;) {
      const word = Atomics.load(this.#word, 0);
      if ((word & 0xffff) + (word >>> 16) >= this.#count) return -1;
      const found = Atomics.compareExchange(
        this.#word,
        0,
        word,
        word + step,
      );
      if (found === word) return piece(word);
    }
  }
}
