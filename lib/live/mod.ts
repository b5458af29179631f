/**
 * The live bench: sources of samples as they are taken, what is kept of them, a
 * meter with advice, captures taken by a trigger, recordings. Draws nothing.
 *
 * @module
 */
export { type Advice, advise, type LiveState, type Trend } from "./advice.ts";
export {
  createPipeSource,
  type PipeSourceOptions,
} from "./create_pipe_source.ts";
export {
  createRecorderSource,
  type RecorderSourceOptions,
} from "./create_recorder_source.ts";
export { createInstrumentSource } from "./create_instrument_source.ts";
export {
  createSimulatedBench,
  type SimulatedBench,
  type SimulatedBenchOptions,
} from "./create_simulated_bench.ts";
export type { BenchKnobs } from "./simulated_signal.ts";
export { LiveBench } from "./live_bench.ts";
export type { LiveFrame, SourceState } from "./live_frame.ts";
export type { LiveRow } from "./live_row.ts";
export type { LiveDiode, LiveSafety } from "./live_safety.ts";
export {
  isLiveSource,
  type LiveBlock,
  type LiveChannel,
  type LiveSource,
  type LiveStream,
} from "./live_source.ts";
export { LiveSourceError } from "./live_source_error.ts";
export type { TraceColumns } from "./live_trace.ts";
export { createLiveView, type LiveView } from "./live_view.ts";
export { type LiveReading, readMeter } from "./meter.ts";
export {
  captureName,
  createLiveSeries,
  inMillimetres,
  listName,
  listText,
  type LiveSeries,
  type SeriesReading,
} from "./series.ts";
export type { ProximityOptions, ThresholdEvent } from "./threshold.ts";
export type { TriggerOptions } from "./trigger.ts";
export {
  type LiveOptions,
  liveSpec,
  type ReadLiveOptions,
  type TakeOptions,
} from "./watch_options.ts";
