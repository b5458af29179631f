/**
 * Fringebook: the notebook bench for self-mixing interferometry.
 *
 * What a person at the bench calls, task by task. What these are made of stands
 * behind further doors, one per room: `fringebook/signal`, `fringebook/fit`,
 * `fringebook/laser` and so on.
 *
 * @module
 */

// Captures: read, make, cut, check, write
export {
  captureFromInstrument,
  captureFromRecorder,
  checkCapture,
  checkCaptureStream,
  createCapture,
  cutCapture,
  encodeCapture,
  findChannel,
  openCaptureStream,
  parseCapture,
  parseCaptures,
  readCapture,
  readCaptures,
  requireChannel,
  streamOfCapture,
  writeCapture,
} from "./capture/mod.ts";

// What a capture is, and its first analysis
export {
  measureCapture,
  measureCaptureStream,
  recogniseMeasurement,
} from "./explore/mod.ts";

// Motion: fringes, displacement, vibration, ring-down
export {
  countFringes,
  createDisplacementTracker,
  estimateFeedback,
  measureDisplacement,
  measureDisplacementSpectrum,
  measureMotion,
  measureMotionStream,
  measureResponse,
  measureRingDown,
  measureVibration,
  measureWaveform,
  motionFromScreen,
  showPitfalls,
} from "./motion/mod.ts";

// Speed: Doppler line, tracking, tachometer
export {
  calibrateSpeed,
  dopplerFrequency,
  measureRotation,
  measureSpeed,
  measureSpeedStream,
  planSpeed,
  speedFromCalibration,
  speedFromDoppler,
  speedFromScreen,
  subtractBackground,
  trackSpeed,
  trackSpeedStream,
} from "./speed/mod.ts";

// Distance: ramps, steps, tuning
export {
  calibrateTuning,
  distancePerStep,
  estimateThermalLag,
  findRamps,
  fitTuningRollOff,
  measureDistance,
  measureSteps,
  measureStepsStream,
  stepsFromScreen,
} from "./range/mod.ts";

// Level: presence, and distance by the monitor current alone
export {
  calibrateLevel,
  calibratePresence,
  findPresence,
  measureLevel,
} from "./level/mod.ts";

// Bench: diode, amplifier, link, plan, safety
export {
  checkDiode,
  checkFrontEnd,
  classLimits,
  electricalCautions,
  estimateLaserSafety,
  estimateLink,
  exposureLimit,
  fitCharacteristicTemperature,
  planMeasurement,
  safetyStatement,
  surfaces,
  undoAmplifier,
} from "./bench/mod.ts";

// Uncertainty
export { quantity } from "./result/mod.ts";
export {
  airIndex,
  propagateUncertainty,
  readingStatistics,
  uncertainInput,
} from "./uncertainty/mod.ts";

// Calibration records
export {
  calibrationCertificate,
  checkCalibrationRecord,
  checkStability,
  createCalibrationRecord,
  createSigningKey,
  findLatestCalibrationRecord,
  loadCalibrationRecord,
  readReferenceReadings,
  saveCalibrationRecord,
  signCalibrationRecord,
  traceabilityStatement,
  tuningFromRecord,
} from "./record/mod.ts";

// Many captures
export { readBatch, summariseBatch } from "./batch/mod.ts";

// The live bench
export { createPipeSource, createSimulatedBench } from "./live/mod.ts";
export { recordSeries, watch } from "./display/mod.ts";

// Simulation
export { rampCurrent, simulateCapture } from "./laser/mod.ts";

// Sample captures and course
export {
  datasetEntry,
  datasetFolder,
  datasetNames,
  datasetTruth,
  loadDataset,
} from "./datasets/mod.ts";
export {
  answersSoFar,
  askQuestions,
  check,
  compareWithTruth,
  openHandout,
  recordAnswer,
  recordChoice,
} from "./course/mod.ts";

// Display
export {
  createFigure,
  display,
  drawPicture,
  formatNumber,
  formatQuantity,
  printReport,
  progress,
  showDataFrame,
  table,
} from "./display/mod.ts";

// Errors by name
export { CaptureFormatError, NotMeasurableError } from "./errors/mod.ts";
export { InstrumentError } from "./capture/mod.ts";
export { RecordError } from "./record/mod.ts";

// Types of what they take and give
export type { CaptureFormatErrorDetails } from "./errors/mod.ts";
export type {
  BlockSource,
  Capture,
  CaptureCheck,
  CaptureStream,
  CaptureStreamCheck,
  Channel,
  ChannelInput,
  ChannelRole,
  CheckCaptureOptions,
  CheckStreamOptions,
  CreateCaptureOptions,
  CutCaptureOptions,
  InstrumentCaptureOptions,
  ReadCaptureOptions,
  RecorderOptions,
  WriteCaptureOptions,
} from "./capture/mod.ts";
export type {
  CaptureMeasurements,
  CaptureStreamMeasurements,
  MeasureCaptureOptions,
  MeasureCaptureStreamOptions,
  RecogniseMeasurementOptions,
  Recognition,
} from "./explore/mod.ts";
export type {
  CountFringesOptions,
  Displacement,
  DisplacementOptions,
  DisplacementSpectrum,
  DisplacementTracker,
  DisplacementTrackerOptions,
  FeedbackEstimate,
  FeedbackEstimateOptions,
  FringeCount,
  LongMotion,
  MeasureDisplacementSpectrumOptions,
  MotionFromScreenOptions,
  MotionMeasurement,
  MotionOptions,
  MotionResponse,
  MotionStreamOptions,
  PitfallOptions,
  Pitfalls,
  ResponseOptions,
  RingDown,
  RingDownOptions,
  ScreenMotion,
  Vibration,
  VibrationOptions,
  Waveform,
  WaveformOptions,
} from "./motion/mod.ts";
export type {
  BackgroundSubtraction,
  CalibrateSpeedOptions,
  DopplerGeometry,
  MeasureRotationOptions,
  MeasureSpeedOptions,
  PlanSpeedOptions,
  RotationMeasurement,
  ScreenSpeed,
  SpeedCalibration,
  SpeedCalibrationPoint,
  SpeedFromScreenOptions,
  SpeedMeasurement,
  SpeedPlan,
  SpeedStreamOptions,
  SpeedTrack,
  SpeedTrackStreamOptions,
  TrackSpeedOptions,
} from "./speed/mod.ts";
export type {
  CalibrateTuningOptions,
  DistanceMeasurement,
  FindRampsOptions,
  MeasureDistanceOptions,
  MeasureStepsOptions,
  Ramps,
  RampSteps,
  ReferencePoint,
  RollOffPoint,
  ScreenStroke,
  StepsFromScreenOptions,
  StepsStreamOptions,
  ThermalLag,
  TuningCalibration,
  TuningModel,
  TuningRollOff,
} from "./range/mod.ts";
export type {
  CalibrateLevelOptions,
  CalibratePresenceOptions,
  LevelCalibration,
  LevelMeasurement,
  LevelPoint,
  MeasureLevelOptions,
  Presence,
  PresenceCalibration,
  PresenceStay,
} from "./level/mod.ts";
export type {
  CharacteristicTemperature,
  CharacteristicTemperatureOptions,
  CheckDiodeOptions,
  CheckFrontEndOptions,
  ClassLimits,
  DiodeCheck,
  ElectricalCautions,
  ElectricalCautionsOptions,
  EstimateLinkOptions,
  FrontEndCheck,
  LaserSafetyEstimate,
  LaserSafetyOptions,
  LightCurrentSweep,
  LinkEstimate,
  MeasurementPlan,
  PlanOptions,
  Surface,
  ThresholdAtTemperature,
  TransimpedanceAmplifier,
  UndoAmplifierOptions,
} from "./bench/mod.ts";
export type {
  AirIndex,
  AirIndexOptions,
  MeasurementModel,
  PropagateUncertaintyOptions,
  ReadingStatistics,
  UncertainInput,
  UncertainInputOptions,
  UncertaintyBudget,
} from "./uncertainty/mod.ts";
export type {
  CalibrationRecord,
  CalibrationRecordOptions,
  CertificateOptions,
  CheckRecordOptions,
  CheckStabilityOptions,
  RecordCheck,
  RecordSignature,
  ReferenceReading,
  Stability,
  StabilityPoint,
  TuningFromRecordOptions,
} from "./record/mod.ts";
export type {
  Batch,
  BatchSummary,
  SummariseBatchOptions,
} from "./batch/mod.ts";
export type {
  LiveFrame,
  LiveOptions,
  LiveReading,
  LiveSeries,
  LiveSource,
  LiveView,
  PipeSourceOptions,
  SimulatedBench,
  SimulatedBenchOptions,
} from "./live/mod.ts";
export type { RecordSeriesOptions, WatchOptions } from "./display/mod.ts";
export type {
  RampCurrentOptions,
  SimulateCaptureOptions,
  SimulatedCapture,
} from "./laser/mod.ts";
export type {
  ManifestEntry,
  ManifestFile,
  ManifestValue,
} from "./datasets/mod.ts";
export type {
  Answer,
  AnswerCheck,
  AskedQuestion,
  CompareWithTruthOptions,
  HandedOut,
  HandedOutEntry,
  Recorded,
  RecordedAnswer,
  RecordedChoice,
  TruthComparison,
} from "./course/mod.ts";
export type {
  DataFrameLike,
  DrawPictureOptions,
  Figure,
  FigureInput,
  FormatNumberOptions,
  FormatQuantityOptions,
  FormattableQuantity,
  Picture,
  PrintReportOptions,
  ProgressOptions,
  Table,
  TableOptions,
  TableRow,
} from "./display/mod.ts";
export type { Quantity, QuantityOptions, Result, Shown } from "./result/mod.ts";
export type { Spectrum } from "./signal/mod.ts";
