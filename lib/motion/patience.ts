/** Times in vain before blocks are passed: 1, 3, 7 … 31 of them. */
const most = 3;
const longestPause = 31;

/**
 * Which of the blocks that do not follow are worked at: where that was in vain
 * again and again only one of 2, 4, … 32, so that a signal no reading describes
 * takes bounded time.
 */
export class Patience {
  /** How often in a row work was in vain. */
  #vain: number;
  /** Blocks to pass before one is worked at again. */
  #pause: number;

  /** @param state Where another stood; `"gone"` where there is no hope. */
  constructor(state: readonly [vain: number, pause: number] | "gone") {
    [this.#vain, this.#pause] = state === "gone"
      ? [most + Math.log2(longestPause + 1), longestPause]
      : state;
  }

  /** Where it stands. */
  state(): readonly [vain: number, pause: number] {
    return [this.#vain, this.#pause];
  }

  /** Whether the next block is worked at. */
  get works(): boolean {
    return this.#pause === 0;
  }

  /** A block was passed. */
  pass(): void {
    this.#pause--;
  }

  /** A block was worked at. */
  learn(helped: boolean): void {
    this.#vain = helped ? 0 : this.#vain + 1;
    this.#pause = this.#vain <= most
      ? 0
      : Math.min(longestPause, 2 ** (this.#vain - most) - 1);
  }
}
