/**
 * Signals: random numbers, Fourier transforms, windows, spectra, filters and
 * envelopes. Knows nothing of lasers.
 *
 * @module
 */
export { createRandom, type RandomStream } from "./random.ts";
export { nextPowerOfTwo, type NumberSequence } from "./samples.ts";
export {
  complexFourierTransform,
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
  type WindowOptions,
  windowValues,
} from "./window.ts";
