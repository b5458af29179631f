/**
 * The live bench: sources of samples as they are taken, and a view of them.
 *
 * @module
 */
export {
  type Advice,
  type BenchKnobs,
  createInstrumentSource,
  createPipeSource,
  createRecorderSource,
  createSimulatedBench,
  type LiveBlock,
  type LiveChannel,
  type LiveDiode,
  type LiveFrame,
  type LiveOptions,
  type LiveReading,
  type LiveRow,
  type LiveSafety,
  type LiveSeries,
  type LiveSource,
  LiveSourceError,
  type LiveState,
  type LiveStream,
  type LiveView,
  type PipeSourceOptions,
  type ProximityOptions,
  type RecorderSourceOptions,
  type SeriesReading,
  type SimulatedBench,
  type SimulatedBenchOptions,
  type SourceState,
  type TakeOptions,
  type ThresholdEvent,
  type TraceColumns,
  type Trend,
  type TriggerOptions,
} from "../live/mod.ts";
export {
  recordSeries,
  type RecordSeriesOptions,
  type SeriesStep,
  watch,
  type WatchOptions,
} from "../display/mod.ts";
