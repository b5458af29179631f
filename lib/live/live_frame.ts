import type { RecordingState } from "../capture/mod.ts";
import type { LiveState } from "./advice.ts";
import type { LiveReading } from "./meter.ts";
import type { LiveRow } from "./live_row.ts";
import type { LiveSafety } from "./live_safety.ts";
import type { TraceColumns } from "./live_trace.ts";
import type { Trend } from "./advice.ts";

/** How the source does. */
export type SourceState = "running" | "stalled" | "ended" | "failed";

/** All that one picture of a live view shows. */
export interface LiveFrame {
  /** Name of the source. */
  readonly source: string;
  /** How it does. */
  readonly sourceState: SourceState;
  /** What is wrong with the source or the recording, in words. */
  readonly faults: readonly string[];
  /** Samples that came, in s. */
  readonly time: number;
  /** When the last sample came, in ms since 1970. */
  readonly newest: number;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** What the signal looks like; `null` before there are samples enough. */
  readonly state: LiveState | null;
  /** What to do next. */
  readonly hint: string;
  /** What the meter shows; `null` before there are samples enough. */
  readonly reading: LiveReading | null;
  /** Best height of the fringes so far, in the unit of the reading. */
  readonly best: number;
  /** How the fringes went. */
  readonly trend: Trend;
  /** Class and current; `null` where nothing is known of the diode. */
  readonly safety: LiveSafety | null;
  /** Displacement, speed, distance, whether something is near. */
  readonly rows: readonly LiveRow[];
  /** The last stretch of the monitor signal. */
  readonly trace: TraceColumns;
  /** Length of that stretch, in s. */
  readonly traceTime: number;
  /** The end of that stretch, some fringes long. */
  readonly zoom: TraceColumns;
  /** Length of that end, in s. */
  readonly zoomTime: number;
  /** Samples lost, as far as the source tells. */
  readonly lost: number;
  /** Gaps between blocks. */
  readonly gaps: number;
  /** Lines that were no samples. */
  readonly garbage: number;
  /** The recording; `null` for none. */
  readonly recording: RecordingState | null;
  /** What a capture that is to be taken waits for; `""` where none is. */
  readonly waitingFor: string;
}
