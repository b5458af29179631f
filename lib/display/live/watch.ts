import {
  createLiveView,
  isLiveSource,
  LiveBench,
  type LiveFrame,
  type LiveOptions,
  type LiveSource,
  liveSpec,
  type LiveView,
} from "../../live/mod.ts";
import {
  functionOption,
  handedOption,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireForm,
} from "../../options/mod.ts";
import type { Shown } from "../../result/mod.ts";
import { currentCell } from "../cell.ts";
import { formatNumber } from "../format_number.ts";
import { createLiveOutput, type LiveOutput } from "./live_output.ts";

/** Options of {@linkcode watch}. */
export interface WatchOptions extends LiveOptions {
  /** Time between two pictures, in s. @default {0.125} */
  interval?: number | string;
  /**
   * Called after each picture; where the bench is simulated, its knobs are turned
   * here.
   *
   * @default {none}
   */
  onPicture?: (frame: LiveFrame) => void;
  /**
   * Ends the watch when it is aborted.
   *
   * @default {none}
   */
  signal?: AbortSignal;
}

export const watchSpec = {
  ...liveSpec,
  interval: optional(
    optionOf.between("Time between two pictures, in s.", 0.02, 10, "s", "0.2s"),
    0.125,
  ),
  onPicture: optional(
    functionOption<(frame: LiveFrame) => void>("Called after each picture."),
    undefined,
    "none",
  ),
  signal: optional(
    handedOption<AbortSignal>(
      "Ends the watch when it is aborted.",
      "an AbortSignal",
      (value) => value instanceof AbortSignal,
    ),
    undefined,
    "none",
  ),
} satisfies Record<keyof WatchOptions, Option>;

/** Part of the time that pictures may take (1). */
const share = 0.5;

const ways: Readonly<Record<LiveView["ended"], string>> = {
  "stopped": "Stopped",
  "capture taken": "The capture is taken",
  "duration": "The time is over",
  "source ended": "The source has ended",
  "source failed": "The source failed",
};

/**
 * Shows a live source as it comes, several pictures a second in place of each
 * other: level, fringes, contrast, clipping, noise, fringe rate, a bar that says
 * stronger or weaker with the best so far, and what to turn next. Keeps the last
 * seconds as a capture, records to a file, takes a capture by a trigger, and
 * follows displacement, speed, distance, or whether something is near.
 *
 * In a notebook the stop button, or the one above the picture, ends it, and the
 * view comes back as after any other end; in a terminal a few lines are drawn.
 *
 * @param source Where the samples come from: `createSimulatedBench(…)`,
 * `createPipeSource(…)`, or those of `fringebook/live`.
 * @param options What is kept, recorded, taken and measured; the diode.
 * @returns The view as it stood at last, with its captures.
 * @throws {LiveSourceError} If the source cannot be opened.
 * @throws {SaveError} If the recording cannot be made.
 *
 * @example
 * ```ts
 * import { createSimulatedBench, watch } from "fringebook";
 * import { expect } from "vitest";
 *
 * const bench = createSimulatedBench({ pace: 100, focus: 0 });
 * const view = await watch(bench, { take: { duration: "0.1s" } });
 * expect(view.ended).toBe("capture taken");
 * expect(view.taken?.sampleCount).toBe(4800);
 * ```
 */
export async function watch(
  source: LiveSource,
  options: WatchOptions = {},
): Promise<LiveView & Shown> {
  const task = "watch a source";
  requireForm(source, {
    what: "a live source",
    is: isLiveSource,
    remedy: "createSimulatedBench(…) and createPipeSource(…) make one",
    awaited: "await …",
  }, task);
  const { interval, onPicture, signal, ...read } = readOptions(
    watchSpec,
    options,
    task,
  );
  const stop = new AbortController();
  const end = () => stop.abort();
  signal?.addEventListener("abort", end, { once: true });
  if (signal?.aborted) end();
  const forget = currentCell()?.onInterrupt?.(end);
  try {
    const bench = await LiveBench.open(source, read, stop.signal);
    const output = createLiveOutput();
    const pictures = await paintUntilOver(bench, output, stop.signal, {
      interval,
      onPicture,
    });
    await bench.close();
    const view = createLiveView(source, bench, read, pictures);
    output.end(view.diagnostics.frame, howItEnded(view));
    return view;
  } finally {
    forget?.();
    signal?.removeEventListener("abort", end);
  }
}

async function paintUntilOver(
  bench: LiveBench,
  output: LiveOutput,
  signal: AbortSignal,
  { interval, onPicture }: {
    readonly interval: number;
    readonly onPicture: ((frame: LiveFrame) => void) | undefined;
  },
): Promise<{ count: number; latency: number }> {
  let isOver = false;
  let wake = () => {};
  const running = bench.run(signal).finally(() => {
    isOver = true;
    wake();
  });
  let count = 0;
  let age = 0;
  let pause = interval;
  try {
    for (;;) {
      await new Promise<void>((resolve) => {
        const timer = setTimeout(resolve, 1000 * pause);
        wake = () => {
          clearTimeout(timer);
          resolve();
        };
        if (isOver) wake();
      });
      if (isOver) break;
      const start = performance.now() / 1000;
      const frame = bench.frame();
      output.show(frame);
      onPicture?.(frame);
      if (frame.sourceState === "running") {
        count++;
        age += (Date.now() - frame.newest) / 1000;
      }
      const taken = performance.now() / 1000 - start;
      // A slow machine draws less often rather than falling behind
      pause = Math.max(interval - taken, taken * (1 - share) / share);
    }
    await running;
  } catch (error) {
    await bench.close();
    throw error;
  }
  return { count, latency: count > 0 ? age / count : NaN };
}

function howItEnded({ ended, duration, recording }: LiveView): string {
  const kept = recording === null || recording.samples === 0
    ? ""
    : `; recorded ${recording.path}`;
  return `${ways[ended]} after ${
    formatNumber(duration, { unit: "s", digits: 3 })
  } of samples${kept}.`;
}
