/**
 * The last samples of all channels of a source. Memory is taken once; samples
 * are counted from the start of the source.
 */
export class SampleRing {
  readonly #rings: readonly Float64Array[];
  readonly #length: number;
  /** Samples taken in since the start. */
  #end = 0;
  /** First sample after the last gap. */
  #joinedFrom = 0;

  /**
   * @param channelCount Channels.
   * @param length Samples of each that are kept.
   */
  constructor(channelCount: number, length: number) {
    this.#length = Math.max(1, Math.ceil(length));
    this.#rings = Array.from(
      { length: channelCount },
      () => new Float64Array(this.#length),
    );
  }

  /** Samples taken in since the start; the index of the next one. */
  get end(): number {
    return this.#end;
  }

  /** Index of the first sample that is kept and follows on without a gap. */
  get start(): number {
    return Math.max(this.#joinedFrom, this.#end - this.#length);
  }

  /** Takes samples in; those before a gap are not kept beside them. */
  push(samples: readonly Float64Array[], joined: boolean): void {
    const count = samples[0]?.length ?? 0;
    if (!joined) this.#joinedFrom = this.#end;
    const skipped = Math.max(0, count - this.#length);
    samples.forEach((values, channel) => {
      const ring = this.#rings[channel]!;
      let at = (this.#end + skipped) % this.#length;
      for (let from = skipped; from < count;) {
        const part = Math.min(count - from, this.#length - at);
        ring.set(values.subarray(from, from + part), at);
        from += part;
        at = (at + part) % this.#length;
      }
    });
    this.#end += count;
  }

  /**
   * Copies samples out.
   *
   * @param from Index of the first, counted from the start of the source.
   * @param to Index after the last.
   * @returns One array per channel; shorter where samples are gone already.
   */
  copy(from: number, to: number): Float64Array[] {
    const first = Math.max(from, this.start);
    const last = Math.min(to, this.#end);
    const count = Math.max(0, last - first);
    return this.#rings.map((ring) => {
      const values = new Float64Array(count);
      const at = first % this.#length;
      const part = Math.min(count, this.#length - at);
      values.set(ring.subarray(at, at + part));
      values.set(ring.subarray(0, count - part), part);
      return values;
    });
  }
}
