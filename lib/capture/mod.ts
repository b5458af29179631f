/**
 * Captures: samples of one or more channels, where they come from, and how good
 * they are.
 *
 * @module
 */
export {
  type Capture,
  type CaptureSource,
  type Channel,
  type ChannelDoubt,
  type ChannelInput,
  type ChannelRole,
  channelRoles,
  createCapture,
  type CreateCaptureOptions,
  type Samples,
} from "./capture.ts";
export {
  type CaptureCheck,
  type ChannelCheck,
  checkCapture,
  type CheckCaptureOptions,
} from "./check/check_capture.ts";
export {
  type CaptureStreamCheck,
  checkCaptureStream,
  type CheckStreamOptions,
} from "./check/check_stream.ts";
export type { FringeRate } from "./check/fringe_rate.ts";
export type { MainsHum } from "./check/hum.ts";
export type { ChannelLevels, SampleRun } from "./check/levels.ts";
export { findChannel, requireChannel } from "./channel.ts";
export type { ChannelOptions, ReadCaptureOptions } from "./options.ts";
export { type RawLayoutOptions } from "./binary/open_raw.ts";
export { type SampleType } from "./binary/sample_type.ts";
export { type CaptureFormat } from "./file/identify.ts";
export {
  parseCapture,
  parseCaptures,
  readCapture,
  readCaptures,
} from "./read_capture.ts";
export { recogniseRole } from "./role.ts";
export type { TextDelimiter } from "./text/sniff.ts";
export {
  convertUnit,
  type ParsedUnit,
  parseQuantity,
  parseUnit,
  splitHeading,
} from "../units/mod.ts";
export { cutCapture, type CutCaptureOptions } from "./cut.ts";
export type { WavSampleFormat } from "./write/wav_parts.ts";
export {
  encodeCapture,
  writeCapture,
  type WriteCaptureOptions,
  type WrittenFormat,
} from "./write/write_capture.ts";
export {
  createRecording,
  type Recording,
  type RecordingOptions,
  type RecordingState,
} from "./write/recording.ts";
export type { ReadingAssumption } from "./file/opened_file.ts";
export { type CaptureSniff, sniffCapture } from "./sniff_capture.ts";
export {
  type CaptureBlock,
  type CaptureStream,
  type CaptureStreamOptions,
  openCaptureStream,
  type ResumePoint,
} from "./stream.ts";
export {
  captureFromInstrument,
  type InstrumentCaptureOptions,
  readAcquisition,
} from "./instrument/capture_from_instrument.ts";
export {
  captureFromRecorder,
  type RecorderOptions,
} from "./instrument/capture_from_recorder.ts";
export {
  connectInstrument,
  type ConnectOptions,
  InstrumentConnection,
  type InstrumentSocket,
} from "./instrument/connection.ts";
export {
  genericScpi,
  type InstrumentChannel,
  type InstrumentDescription,
  type NumberOrQuery,
  parseInstrumentDescription,
} from "./instrument/description.ts";
export { InstrumentError } from "./instrument/instrument_error.ts";
export type { AskPermission } from "./instrument/permission.ts";
export {
  type ByteDecoder,
  createByteDecoder,
  type DecodedSamples,
  type IncomingChannel,
  type IncomingHead,
} from "./incoming/byte_decoder.ts";
export {
  type BlockAnalysis,
  type BlockSource,
  runBlocks,
  type SampleSource,
  streamOfCapture,
  streamOfSamples,
  type StreamRunOptions,
  type StreamState,
} from "./block_source.ts";
