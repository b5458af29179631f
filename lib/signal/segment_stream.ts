import { checkpoint } from "../progress/mod.ts";
import type { Detrending } from "./detrend.ts";
import type { NumberSequence } from "./samples.ts";
import { eachSegmentPower } from "./segment_power.ts";

/** How a stream is cut into windowed segments. */
export interface StreamSegments {
  /** Samples per segment. */
  readonly length: number;
  /** Samples from the start of one segment to the next. */
  readonly hop: number;
  /** Window values, of `length`. */
  readonly window: Float64Array;
  /** What is removed from each segment before it is windowed. */
  readonly detrending: Detrending;
}

/** Where a {@linkcode SegmentStream} stands; plain data. */
export interface SegmentStreamState {
  /** Samples taken. */
  readonly taken: number;
  /** Segments given out. */
  readonly count: number;
  /** Samples that wait for their segment to be full. */
  readonly waiting: readonly number[];
}

/** Cuts samples that come in pieces into the same segments as a whole record. */
export class SegmentStream {
  /** Samples taken. */
  taken = 0;
  /** Segments given out. */
  count = 0;
  readonly #segments: StreamSegments;
  readonly #sink: (index: number, power: Float64Array) => void;
  readonly #buffer: Float64Array;
  readonly #task: string;
  #filled = 0;

  /**
   * @param segments How to cut.
   * @param task What is done, for messages.
   * @param sink Called once per segment with its index and squared moduli; the
   * array is used again.
   * @param state Where to go on, or `null`.
   */
  constructor(
    segments: StreamSegments,
    task: string,
    sink: (index: number, power: Float64Array) => void,
    state: SegmentStreamState | null = null,
  ) {
    this.#segments = segments;
    this.#task = task;
    this.#sink = sink;
    this.#buffer = new Float64Array(Math.max(1 << 17, 4 * segments.length));
    if (state === null) return;
    this.taken = state.taken;
    this.count = state.count;
    this.#buffer.set(state.waiting);
    this.#filled = state.waiting.length;
  }

  /** Takes samples in. */
  push(samples: NumberSequence): void {
    for (let i = 0; i < samples.length; i++) {
      if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, this.#task);
      const value = samples[i]!;
      if (value - value !== 0) {
        throw new RangeError(
          `Cannot ${this.#task} as sample ${
            this.taken + i
          } is ${value}: cut the capture around missing samples first`,
        );
      }
    }
    const buffer = this.#buffer;
    for (let at = 0; at < samples.length;) {
      const room = Math.min(samples.length - at, buffer.length - this.#filled);
      if (Array.isArray(samples)) {
        for (let i = 0; i < room; i++) {
          buffer[this.#filled + i] = samples[at + i]!;
        }
      } else {
        buffer.set(
          (samples as Float64Array).subarray(at, at + room),
          this.#filled,
        );
      }
      this.#filled += room;
      at += room;
      if (this.#filled === buffer.length) this.#run(true);
    }
    this.taken += samples.length;
  }

  /** Gives out every segment that is full. */
  flush(): void {
    this.#run(false);
  }

  /**
   * Where it stands, every pair of full segments given out: a last one without its
   * neighbour waits for it, so that a run that goes on rounds as one that did not
   * stop.
   */
  state(): SegmentStreamState {
    this.#run(true);
    return {
      taken: this.taken,
      count: this.count,
      waiting: Array.from(this.#buffer.subarray(0, this.#filled)),
    };
  }

  #run(pairs: boolean): void {
    const { length, hop } = this.#segments;
    let count = Math.floor((this.#filled - length) / hop) + 1;
    // Two segments share a transform.
    if (pairs && count % 2 === 1) count--;
    if (count < 1) return;
    const first = this.count;
    eachSegmentPower(
      this.#buffer.subarray(0, this.#filled),
      { ...this.#segments, count },
      (index, power) => this.#sink(first + index, power),
    );
    this.count += count;
    this.#buffer.copyWithin(0, count * hop, this.#filled);
    this.#filled -= count * hop;
  }
}
