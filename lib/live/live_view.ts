import type { Capture, RecordingState } from "../capture/mod.ts";
import {
  createResult,
  provenance,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import type { LiveState } from "./advice.ts";
import type { LiveBench } from "./live_bench.ts";
import type { LiveFrame } from "./live_frame.ts";
import type { LiveReading } from "./meter.ts";
import type { LiveRow } from "./live_row.ts";
import type { LiveSafety } from "./live_safety.ts";
import type { LiveSource } from "./live_source.ts";
import type { ThresholdEvent } from "./threshold.ts";
import type { ReadLiveOptions } from "./watch_options.ts";

/** What a watch leaves behind. */
export interface LiveView extends Result {
  /** Chooses the presenter. */
  readonly kind: "live.view";
  /** Name of the source. */
  readonly source: string;
  /** Why the watch ended. */
  readonly ended:
    | "stopped"
    | "capture taken"
    | "duration"
    | "source ended"
    | "source failed";
  /** What the signal looked like at last; `null` without samples. */
  readonly state: LiveState | null;
  /** What was to be done next. */
  readonly hint: string;
  /** The meter at last; `null` without samples. */
  readonly reading: LiveReading | null;
  /** Best height of the fringes, in the unit of the reading. */
  readonly best: number;
  /** Samples that came, in s. */
  readonly duration: number;
  /** Samples lost, as far as the source tells. */
  readonly lost: number;
  /** The last samples as a capture; `null` where none came. */
  readonly capture: (Capture & Shown) | null;
  /** The capture that was asked for; `null` where it was not taken. */
  readonly taken: (Capture & Shown) | null;
  /** The recording; `null` where none was asked for. */
  readonly recording: RecordingState | null;
  /** What was measured beside the meter, as it stood at last. */
  readonly rows: readonly LiveRow[];
  /** Changes of what is near, the last 1000. */
  readonly events: readonly ThresholdEvent[];
  /** Class and current; `null` where nothing is known of the diode. */
  readonly safety: LiveSafety | null;
  /** What the last picture showed, and how pictures came. */
  readonly diagnostics: {
    /** The last picture. */
    readonly frame: LiveFrame;
    /** Pictures drawn. */
    readonly pictures: number;
    /** Mean time from the newest sample to its picture, in s; `NaN`: none. */
    readonly latency: number;
  };
}

/** Makes the result of a watch that is over. */
export function createLiveView(
  source: LiveSource,
  bench: LiveBench,
  options: ReadLiveOptions,
  pictures: { readonly count: number; readonly latency: number },
): LiveView & Shown {
  const frame = bench.frame();
  const { taken } = bench;
  const { sourceState, faults, recording, samplingRate } = frame;
  const capture = bench.capture();
  const ended = taken !== null
    ? "capture taken"
    : sourceState === "failed"
    ? "source failed"
    : sourceState === "ended"
    ? "source ended"
    : bench.isOver
    ? "duration"
    : "stopped";
  const warnings: Warning[] = faults
    .filter((fault) => fault !== "The source has ended.")
    .map((fault) => warn("live-fault", fault));
  if (options.take !== null && taken === null) {
    warnings.push(warn(
      "not-taken",
      `The capture was not taken: it waited for ${frame.waitingFor}. Watch again`,
    ));
  }
  const { record, keep, window, duration, take, diode } = options;
  return createResult<LiveView>({
    kind: "live.view",
    source: source.name,
    ended,
    state: frame.state,
    hint: frame.hint,
    reading: frame.reading,
    best: frame.best,
    duration: frame.time,
    lost: frame.lost,
    capture,
    taken,
    recording,
    rows: frame.rows,
    events: [...bench.events],
    safety: frame.safety,
    warnings,
    provenance: provenance({
      method: "watch",
      captures: capture === null ? [] : [capture.source],
      options: { record, keep, window, duration, take, diode, samplingRate },
    }),
    diagnostics: {
      frame,
      pictures: pictures.count,
      latency: pictures.latency,
    },
  });
}
