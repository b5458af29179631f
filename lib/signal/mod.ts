/**
 * Signals: random numbers, Fourier transforms, windows, spectra, filters and
 * envelopes. Knows nothing of lasers.
 *
 * @module
 */
export { createKeyedRandom } from "./keyed_random.ts";
export { createRandom, type RandomStream } from "./random.ts";
export { nextPowerOfTwo, type NumberSequence } from "./samples.ts";
export {
  complexFourierTransform,
  type ComplexFourierTransformOptions,
  type ComplexSequence,
  inverseRealFourierTransform,
  realFourierTransform,
  type RealFourierTransformOptions,
  type RealSpectrum,
} from "./fourier.ts";
export {
  analyticSignal,
  type AnalyticSignalOptions,
} from "./analytic_signal.ts";
export {
  type WindowFigures,
  windowFigures,
  type WindowName,
  windowNames,
  type WindowOptions,
  windowValues,
} from "./window.ts";
export { detrend, type Detrending } from "./detrend.ts";
export {
  butterworthSections,
  type FilterBand,
  type FilterSection,
} from "./butterworth.ts";
export {
  bandPass,
  filterZeroPhase,
  highPass,
  lowPass,
  removeHum,
  type RemoveHumOptions,
  type ZeroPhaseOptions,
} from "./zero_phase.ts";
export {
  powerSpectrum,
  type Spectrum,
  type SpectrumOptions,
  welch,
  type WelchOptions,
} from "./spectrum.ts";
export { type Spectrogram, spectrogram } from "./spectrogram.ts";
export {
  type BandSource,
  bandSource,
  type Baseband,
  cutBaseband,
} from "./baseband.ts";
export { undoCoupling, type UndoCouplingOptions } from "./undo_coupling.ts";
export {
  createSpectrumAverage,
  type SpectrumAverage,
  type SpectrumAverageState,
  welchStream,
  type WelchStreamOptions,
} from "./welch_stream.ts";
export {
  spectrogramStream,
  type SpectrogramStreamOptions,
  type SpectrogramStreamState,
} from "./spectrogram_stream.ts";
