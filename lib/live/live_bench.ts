import {
  type Capture,
  createRecording,
  type Recording,
} from "../capture/mod.ts";
import type { Shown } from "../result/mod.ts";
import { type Advice, advise, type Trend } from "./advice.ts";
import { captureOfLive } from "./capture_of_live.ts";
import { CaptureTaker, takenHow, triggerChannel } from "./capture_taker.ts";
import { LiveDisplacement } from "./live_displacement.ts";
import type { LiveFrame, SourceState } from "./live_frame.ts";
import { LivePresence } from "./live_presence.ts";
import { type LiveRow, textRow } from "./live_row.ts";
import { judgeSafety, type LiveSafety } from "./live_safety.ts";
import type { LiveBlock, LiveSource, LiveStream } from "./live_source.ts";
import { traceColumns } from "./live_trace.ts";
import { lookAtDistance, lookAtSpeed, type LookedAt } from "./looked_at.ts";
import { type LiveReading, readMeter } from "./meter.ts";
import { quietly } from "./quietly.ts";
import { RateWatch } from "./rate_watch.ts";
import { SampleRing } from "./sample_ring.ts";
import { Strength } from "./strength.ts";
import type { ThresholdEvent } from "./threshold.ts";
import type { ReadLiveOptions } from "./watch_options.ts";

/** Most samples that the meter looks at. */
const mostLookedAt = 32_768;
/** Least samples for a reading. */
const leastLookedAt = 256;
/** Columns of the picture's trace. */
const columns = 360;
/** Fringes that the zoomed end shows. */
const zoomedFringes = 12;
/** Silence from which on a source is stalled, in s. */
const stalledAfter = 1;
/** Work that holds up the reading, in s. */
const longWork = 0.1;
/** Part by which a sampling rate may be off (1). */
const rateTolerance = 0.02;
/** Readings in a row that must be good. */
const goodReadings = 2;

const seconds = () => performance.now() / 1000;

/**
 * Takes in what a source gives, keeps the last of it, records it, and tells at any
 * time how it looks. Draws nothing and asks nobody.
 */
export class LiveBench {
  readonly #source: LiveSource;
  readonly #stream: LiveStream;
  readonly #options: ReadLiveOptions;
  readonly #ring: SampleRing;
  readonly #monitor: number;
  readonly #strength = new Strength();
  readonly #clock = new RateWatch();
  readonly #taker: CaptureTaker | null;
  readonly #displacement: LiveDisplacement | null;
  readonly #lookedAt: readonly LookedAt[];
  readonly #presence: LivePresence | null;
  #recording: Recording | null = null;
  #state: SourceState = "running";
  #failure = "";
  #newest = Date.now();
  #lost = 0;
  #gaps = 0;
  #garbage = 0;
  #good = 0;
  /** When work that held up the reading ended, in s. */
  #awakeSince = -Infinity;
  #reading: LiveReading | null = null;
  #advice: Advice | null = null;
  #trend: Trend = { part: 1, direction: "steady" };
  #safety: LiveSafety | null = null;
  #taken: (Capture & Shown) | null = null;

  private constructor(
    source: LiveSource,
    stream: LiveStream,
    options: ReadLiveOptions,
  ) {
    const { keep, window, take, displacement, speed, distance, proximity } =
      options;
    const { channels, samplingRate } = stream;
    this.#source = source;
    this.#stream = stream;
    this.#options = options;
    const longest = Math.max(keep, window, 1.5 * (take?.duration ?? 0) + 1);
    this.#ring = new SampleRing(channels.length, longest * samplingRate);
    this.#monitor = Math.max(
      0,
      channels.findIndex(({ role }) => role === "monitor signal"),
    );
    this.#taker = take === null ? null : new CaptureTaker(
      take,
      this.#ring,
      samplingRate,
      take.trigger === null
        ? this.#monitor
        : triggerChannel(channels, take.trigger.on),
    );
    this.#displacement = displacement === null ? null : new LiveDisplacement({
      trainingSamples: Math.max(
        256,
        Math.min(65536, Math.round(samplingRate / 4)),
      ),
      ...displacement,
    }, seconds);
    this.#lookedAt = [
      ...(speed === null ? [] : [lookAtSpeed(speed)]),
      ...(distance === null ? [] : [lookAtDistance(distance)]),
    ];
    this.#presence = proximity === null ? null : new LivePresence(
      proximity,
      samplingRate,
      channels[this.#monitor]!.unit,
    );
  }

  /**
   * Opens a source, and the recording where one is asked for.
   *
   * @throws What the source, or the recording, throws.
   */
  static async open(
    source: LiveSource,
    options: ReadLiveOptions,
    signal?: AbortSignal,
  ): Promise<LiveBench> {
    const stream = await source.open(signal);
    try {
      const bench = new LiveBench(source, stream, options);
      if (options.record !== null) {
        bench.#recording = await createRecording(options.record, {
          channels: stream.channels,
          samplingRate: stream.samplingRate,
          startTime: new Date().toISOString(),
          metadata: stream.settings,
        });
      }
      return bench;
    } catch (error) {
      await stream.close();
      throw error;
    }
  }

  /** Whether there is nothing more to wait for. */
  get isOver(): boolean {
    const { duration } = this.#options;
    return this.#state === "ended" || this.#state === "failed" ||
      this.#taken !== null ||
      duration !== null &&
        this.#ring.end >= duration * this.#stream.samplingRate;
  }

  /** The capture that was asked for, once it is taken. */
  get taken(): (Capture & Shown) | null {
    return this.#taken;
  }

  /** Changes of what is near. */
  get events(): readonly ThresholdEvent[] {
    return this.#presence?.threshold.events ?? [];
  }

  /** Takes blocks in until it is over or stopped. */
  async run(signal: AbortSignal): Promise<void> {
    const blocks = this.#stream.blocks();
    try {
      while (!this.isOver) {
        const step = await nextBlock(blocks, signal);
        if (step === null) return;
        if (step.done) {
          this.#state = "ended";
          return;
        }
        const start = seconds();
        quietly(() => this.#take(step.value));
        const end = seconds();
        if (end - start > longWork) this.#awakeSince = end;
      }
    } catch (error) {
      // A source that the person interrupts does not fail
      if (signal.aborted || (error as Error)?.name === "KeyboardInterrupt") {
        return;
      }
      this.#state = "failed";
      this.#failure = error instanceof Error ? error.message : String(error);
    }
  }

  /** Lets go of the source, and ends the recording. */
  async close(): Promise<void> {
    await this.#stream.close();
    await this.#recording?.finish();
  }

  #take({ samples, joined, lost, garbage }: LiveBlock): void {
    const count = samples[0]?.length ?? 0;
    const isFirst = this.#ring.end === 0;
    const now = seconds();
    this.#garbage += garbage;
    this.#lost += lost;
    if (!joined && !isFirst) this.#gaps++;
    if (count === 0) return;
    this.#ring.push(samples, joined);
    this.#newest = Date.now();
    this.#clock.push(count, now);
    if (this.#state === "stalled") this.#state = "running";
    this.#recording?.push(
      samples,
      joined || isFirst ? lost : Math.max(1, lost),
    );
    this.#displacement?.push(
      samples[this.#monitor]!,
      joined || isFirst,
      this.#advice?.state ?? null,
    );
    this.#presence?.push(samples[this.#monitor]!, joined || isFirst);
    this.#takeCapture();
  }

  #takeCapture(): void {
    const { take } = this.#options;
    const found = this.#taker?.look() ?? null;
    if (found === null || take === null || this.#taken !== null) return;
    this.#taken = this.#cut(found.from, found.to, { "taken": takenHow(take) });
  }

  /** The last stretch that is kept, as a capture; `null` without samples. */
  capture(longest = this.#options.keep): (Capture & Shown) | null {
    const { start, end } = this.#ring;
    const from = Math.max(
      start,
      end - Math.round(longest * this.#stream.samplingRate),
    );
    return end > from ? this.#cut(from, end, { "taken": "kept live" }) : null;
  }

  #cut(
    from: number,
    to: number,
    metadata: Readonly<Record<string, string>>,
  ): Capture & Shown {
    const { samplingRate } = this.#stream;
    const age = 1000 * (this.#ring.end - from) / samplingRate;
    return captureOfLive(
      this.#stream,
      this.#ring.copy(from, to),
      new Date(this.#newest - age).toISOString(),
      metadata,
    );
  }

  /** Looks at the last stretch; once for each picture. */
  frame(): LiveFrame {
    return quietly(() => this.#look());
  }

  #look(): LiveFrame {
    const { samplingRate, paced } = this.#stream;
    const now = seconds();
    const { measuredRate, silence } = this.#clock.check(now);
    // After work of our own that took long, what came meanwhile is still to be read
    const waited = Math.min(silence, now - this.#awakeSince);
    if (this.#state === "running" && waited > stalledAfter) {
      this.#state = "stalled";
    }
    const window = Math.min(
      this.#options.window,
      mostLookedAt / samplingRate,
    );
    const stretch = this.capture(window);
    const isNew = this.#state === "running" || this.#reading === null;
    if (stretch !== null && stretch.sampleCount >= leastLookedAt && isNew) {
      this.#read({
        ...stretch,
        // What carries neither is of no interest here.
        channels: stretch.channels.filter(({ role }, index) =>
          index === this.#monitor || role === "drive current"
        ),
      });
      for (const one of this.#lookedAt) {
        if (one.isDue(now)) one.look(stretch, seconds);
      }
    }
    const trace = stretch === null
      ? new Float64Array(0)
      : stretch.channels[this.#monitor]!.samples as Float64Array;
    const reading = this.#reading;
    const zoom = trace.subarray(
      -zoomLength(reading, samplingRate, trace.length),
    );
    return {
      source: this.#source.name,
      sourceState: this.#state,
      faults: this.#faults(paced ? measuredRate : NaN, silence),
      time: this.#ring.end / samplingRate,
      newest: this.#newest,
      samplingRate,
      state: this.#advice?.state ?? null,
      hint: this.#advice?.hint ?? "Waiting for samples.",
      reading,
      best: this.#strength.best,
      trend: this.#trend,
      safety: this.#safety,
      rows: this.#rows(),
      trace: traceColumns(trace, columns),
      traceTime: trace.length / samplingRate,
      zoom: traceColumns(zoom, columns / 2),
      zoomTime: zoom.length / samplingRate,
      lost: this.#lost,
      gaps: this.#gaps,
      garbage: this.#garbage,
      recording: this.#recording?.state ?? null,
      waitingFor: this.#taken !== null ? "" : this.#taker?.waitingFor ?? "",
    };
  }

  #read(stretch: Capture): void {
    const { diode } = this.#options;
    const reading = readMeter(stretch);
    this.#reading = reading;
    const safety = diode === null
      ? null
      : judgeSafety(diode, reading.highestCurrent);
    this.#safety = safety;
    const time = this.#ring.end / this.#stream.samplingRate;
    const first = advise(reading, this.#trend, safety);
    const counts = first.state !== "clipped" && first.state !== "too strong";
    this.#trend = this.#strength.push(time, reading, counts);
    this.#advice = advise(reading, this.#trend, safety);
    this.#good = this.#advice.state === "good" ? this.#good + 1 : 0;
    this.#taker?.arm(this.#good >= goodReadings);
    this.#presence?.read(reading);
  }

  #rows(): LiveRow[] {
    const isNear = this.#presence?.threshold.isNear;
    return [
      ...(this.#displacement?.rows() ?? []),
      ...this.#lookedAt.flatMap((one) => one.rows()),
      ...(this.#presence === null ? [] : [textRow(
        "target",
        isNear === null ? "not known yet" : isNear ? "near" : "away",
      )]),
    ];
  }

  #faults(measuredRate: number, silence: number): string[] {
    const { samplingRate } = this.#stream;
    const faults: string[] = [];
    if (this.#state === "failed") {
      faults.push(`The source failed: ${this.#failure}`);
    }
    if (this.#state === "ended") faults.push("The source has ended.");
    if (this.#state === "stalled") {
      faults.push(
        `No samples for ${
          silence.toFixed(0)
        } s: the recorder or the instrument stands still.`,
      );
    }
    const off = measuredRate / samplingRate - 1;
    if (this.#state === "running" && Math.abs(off) > rateTolerance) {
      faults.push(
        `Samples come at ${
          measuredRate.toPrecision(3)
        } Hz by the clock, but ${samplingRate} Hz was said: ${
          off > 0
            ? "state the rate that was set, or frequencies and speeds are wrong"
            : "the source cannot keep up, or another rate was set"
        }.`,
      );
    }
    if (this.#lost > 0) faults.push(`${this.#lost} samples were lost.`);
    if (this.#garbage > 0) {
      faults.push(
        `${this.#garbage} lines were no samples; missing values stand for them.`,
      );
    }
    const { fault = null, droppedBlocks = 0 } = this.#recording?.state ?? {};
    if (fault !== null) faults.push(`Recording: ${fault}.`);
    if (droppedBlocks > 0) {
      faults.push(
        `Recording: ${droppedBlocks} blocks were dropped as the disk is too slow; missing values stand for them.`,
      );
    }
    return faults;
  }
}

/** Samples of the zoomed end: some fringes, or a twentieth where none are seen. */
function zoomLength(
  reading: LiveReading | null,
  samplingRate: number,
  all: number,
): number {
  const rate = reading?.fringeRate ?? NaN;
  const wanted = Number.isFinite(rate)
    ? zoomedFringes * samplingRate / rate
    : all / 20;
  return Math.max(1, Math.min(all, Math.ceil(Math.max(32, wanted))));
}

/**
 * The next block, or `null` where the watch is stopped before it comes. Not a
 * race of promises: one that lives as long as the watch would keep every block.
 */
function nextBlock(
  blocks: AsyncIterator<LiveBlock>,
  signal: AbortSignal,
): Promise<IteratorResult<LiveBlock> | null> {
  return new Promise((resolve, reject) => {
    if (signal.aborted) return resolve(null);
    const stop = () => resolve(null);
    signal.addEventListener("abort", stop, { once: true });
    blocks.next().then(resolve, reject).finally(() =>
      signal.removeEventListener("abort", stop)
    );
  });
}
