import {
  type Capture,
  createCapture,
  findChannel,
  requireChannel,
  type Samples,
} from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { ifMeasurable } from "./if_measurable.ts";
import { type RampSettings, rampsOf } from "./ramps.ts";
import type { RampSteps } from "./steps_result.ts";

/** Samples of one part, at least. */
const leastSamples = 1 << 12;
/** Samples in which a ramp must show itself. */
const longestLook = 1 << 24;

/** A part of a long capture: some whole ramps. */
export interface RampPart {
  readonly capture: Capture;
  /** Index of its first sample in the long capture. */
  readonly start: number;
}

/** Where {@linkcode RampParts} stand; plain data. */
export interface RampPartsState {
  readonly start: number;
  /** Samples of a part; 0 before the ramp is known. */
  readonly length: number;
  /** Samples that wait, channel after channel; `null` is a missing one. */
  readonly waiting: readonly (readonly (number | null)[])[];
}

/** Cuts a long capture into parts of some ramps each. */
export class RampParts {
  readonly #options: RampSettings;
  readonly #periods: number;
  readonly #measure: (part: RampPart) => RampSteps | null;
  #start = 0;
  #length = 0;
  #filled = 0;
  #look = 1 << 16;
  /** Monitor signal and drive, with room for one part. */
  #buffers: Float64Array[] = [];
  #like: Capture | null = null;
  #restored: RampPartsState["waiting"] | null = null;

  /**
   * @param options How ramps are found.
   * @param periods Periods of the ramp in one part.
   * @param measure What is done with a part; its strokes say where the next one
   * starts.
   * @param state Where to go on, or `null`.
   */
  constructor(
    options: RampSettings,
    periods: number,
    measure: (part: RampPart) => RampSteps | null,
    state: RampPartsState | null,
  ) {
    this.#options = options;
    this.#periods = periods;
    this.#measure = measure;
    if (state === null) return;
    this.#start = state.start;
    this.#length = state.length;
    this.#restored = state.waiting;
  }

  /** Takes the next block in. */
  push(capture: Capture): void {
    const channels = channelsOf(capture);
    this.#like = capture;
    if (this.#restored !== null) {
      const waiting = this.#restored;
      this.#restored = null;
      this.#room(waiting[0]?.length ?? 0, waiting.length);
      waiting.forEach((values, k) =>
        this.#buffers[k]!.set(values.map((value) => value ?? NaN))
      );
      this.#filled = waiting[0]?.length ?? 0;
    }
    const count = capture.sampleCount;
    for (let at = 0; at < count;) {
      const wanted = this.#length > 0 ? this.#length : this.#look;
      const taken = Math.min(count - at, Math.max(0, wanted - this.#filled));
      this.#room(this.#filled + taken, channels.length);
      channels.forEach(({ samples }, k) =>
        this.#buffers[k]!.set(samples.subarray(at, at + taken), this.#filled)
      );
      this.#filled += taken;
      at += taken;
      while (this.#filled >= (this.#length > 0 ? this.#length : this.#look)) {
        this.#cut(false);
      }
    }
  }

  /** Measures what is left. */
  finish(): void {
    if (this.#filled > 0) this.#cut(true);
  }

  /** Where it stands, as plain data. */
  state(): RampPartsState {
    return {
      start: this.#start,
      length: this.#length,
      waiting: this.#buffers.map((buffer) =>
        Array.from(buffer.subarray(0, this.#filled))
      ),
    };
  }

  #cut(last: boolean): void {
    if (this.#length === 0 && !last) {
      this.#findLength();
      if (this.#length === 0 || this.#filled < this.#length) return;
    }
    const part = { capture: this.#part(), start: this.#start };
    const steps = this.#measure(part);
    if (last) return;
    const stroke = steps?.diagnostics.strokes.at(-1);
    // Half of the last stroke leads in to the next part, so that its end is seen
    // as a turning point there too.
    const keep = stroke === undefined
      ? this.#filled >> 1
      : this.#filled - Math.floor((stroke.start + stroke.end) / 2);
    for (const buffer of this.#buffers) {
      buffer.copyWithin(0, this.#filled - keep, this.#filled);
    }
    this.#start += this.#filled - keep;
    this.#filled = keep;
  }

  /** Samples of one part; 0 while no ramp shows. */
  #findLength(): void {
    const capture = this.#part();
    const ramps = ifMeasurable(() => rampsOf(capture, this.#optionsAt()));
    const period = capture.samplingRate / (ramps?.frequency.value ?? NaN);
    if (period > 0) {
      this.#length = Math.ceil(Math.max(leastSamples, this.#periods * period));
      return;
    }
    this.#look = 4 * this.#filled;
    if (this.#look <= longestLook) return;
    // Says itself what is missing.
    rampsOf(capture, this.#optionsAt());
    throw new NotMeasurableError(
      "no ramp",
      `Cannot count steps as the first ${this.#filled} samples hold no whole period of the ramp: ramp faster, or measure the capture in memory`,
    );
  }

  /** A stated drive is shifted to the start of the part. */
  #optionsAt(): RampSettings {
    return optionsAt(this.#options, this.#start, this.#like!.samplingRate);
  }

  #part(): Capture {
    const like = this.#like!;
    return createCapture(
      channelsOf(like).map((channel, k) => ({
        ...channel,
        samples: this.#buffers[k]!.subarray(0, this.#filled),
      })),
      { samplingRate: like.samplingRate, source: like.source },
    );
  }

  #room(count: number, channels: number): void {
    for (let k = 0; k < channels; k++) {
      const buffer = this.#buffers[k] ?? new Float64Array(0);
      if (buffer.length >= count && buffer.length > 0) continue;
      const wider = new Float64Array(Math.max(count, 2 * buffer.length));
      wider.set(buffer.subarray(0, this.#filled));
      this.#buffers[k] = wider;
    }
  }
}

/** The options with a stated drive shifted to a sample. */
export function optionsAt<
  Options extends Pick<RampSettings, "drive">,
>(
  options: Options,
  start: number,
  samplingRate: number,
): Options {
  const { drive = null } = options;
  if (drive === null) return options;
  const turns = (drive.start ?? 0) + start * drive.frequency / samplingRate;
  return { ...options, drive: { ...drive, start: turns - Math.floor(turns) } };
}

function channelsOf(capture: Capture) {
  const monitor = requireChannel(capture, "monitor signal");
  const drive = findChannel(capture, "drive current") ??
    findChannel(capture, "drive voltage");
  return (drive === null ? [monitor] : [monitor, drive]) as {
    name: string;
    role: typeof monitor.role;
    unit: string;
    scale: number;
    fullScale: typeof monitor.fullScale;
    samples: Samples;
  }[];
}
