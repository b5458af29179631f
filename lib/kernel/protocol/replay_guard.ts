/**
 * Remembers the signatures of messages already served, so that a recorded
 * message sent again is dropped. Bounded: the oldest tenth is forgotten when it
 * is full.
 */
export class ReplayGuard {
  readonly #seen = new Set<string>();
  readonly #capacity: number;

  /**
   * Remembers the last `capacity` signatures.
   *
   * @param capacity Signatures remembered at most.
   */
  constructor(capacity = 65_536) {
    this.#capacity = capacity;
  }

  /**
   * Whether a message is let in.
   *
   * @param signature A verified signature.
   * @returns Whether it is new; it is remembered from then on.
   */
  admit(signature: string): boolean {
    if (this.#seen.has(signature)) return false;
    if (this.#seen.size >= this.#capacity) {
      let surplus = Math.ceil(this.#capacity / 10);
      for (const old of this.#seen) {
        if (surplus-- === 0) break;
        this.#seen.delete(old);
      }
    }
    this.#seen.add(signature);
    return true;
  }
}
