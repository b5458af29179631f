import { fitNonlinear, type NonlinearFit } from "../fit/mod.ts";
import {
  nextPowerOfTwo,
  type Spectrum,
  welch,
  windowValues,
} from "../signal/mod.ts";
import type { LineCandidate } from "./find_lines.ts";
import {
  lineArea,
  lineDerivatives,
  lineModel,
  type LineShape,
} from "./line_shape.ts";

/** A line with a width of its own, measured. */
export interface BroadenedLine {
  /** Centre, in Hz. */
  readonly frequency: number;
  /** Standard uncertainty of the centre, in Hz. */
  readonly standardUncertainty: number;
  /** Effective degrees of freedom of that uncertainty (1). */
  readonly degreesOfFreedom: number;
  /** Full width at half maximum, less the resolution, in Hz. */
  readonly width: number;
  /** Standard uncertainty of the width, in Hz. */
  readonly widthStandardUncertainty: number;
  /** Power under the line, in unit². */
  readonly power: number;
  /** Background density at the centre, in unit²/Hz. */
  readonly background: number;
  /** Form that fits best. */
  readonly shape: LineShape;
  /** χ² per degree of freedom of the fit (1): about 1 where the form is right. */
  readonly reducedChiSquare: number;
  /** Correlation times of the line that the record holds, T × width (1). */
  readonly independentParts: number;
  /** Frequencies fitted, in Hz. */
  readonly fitFrequency: Float64Array;
  /** Densities fitted to, in unit²/Hz. */
  readonly fitDensity: Float64Array;
  /** Fitted line with background, in unit²/Hz. */
  readonly fitted: Float64Array;
  /** Whether the fit settled. */
  readonly converged: boolean;
}

/** Options of {@linkcode measureBroadenedLine}. */
export interface BroadenedLineOptions {
  /** Samples per second, in Hz. */
  samplingRate: number;
  /** Band that may be used for the fit, in Hz. */
  lowest: number;
  highest: number;
  /** Form of the line; `null` takes the one that fits better. */
  shape: LineShape | null;
  /** −3 dB frequency of the amplifier, in Hz; its slope is taken out. */
  bandwidth: number;
}

/**
 * Measures the centre of a broadened line (speckle, spread of angles): a line
 * and a background are fitted to the averaged spectrum, weighted by the model's
 * own density until it repeats itself. That solves the likelihood equations of
 * a Gaussian process (Whittle 1953, Ark. Mat. 2, 423, from memory); the centre of a symmetric
 * line is without bias, and its uncertainty follows from the Fisher information
 * of the record's effective length.
 *
 * @param samples Finite numbers.
 * @param seen The line as it was found.
 * @param options Sampling rate, band, form.
 * @returns The line, or `null` where nothing with a finite width fits.
 */
export function measureBroadenedLine(
  samples: Float64Array,
  seen: LineCandidate,
  options: BroadenedLineOptions,
): BroadenedLine | null {
  const { samplingRate, lowest, highest, shape, bandwidth } = options;
  const longest = nextPowerOfTwo(samples.length + 1) / 2;
  const guess = roughShape(samples, seen, options, longest);
  if (guess === null) return null;
  const segmentLength = Math.min(
    longest,
    nextPowerOfTwo(8 * samplingRate / guess.width),
  );
  const spectrum = welch(samples, { samplingRate, segmentLength, overlap });
  const low = Math.max(
    lowest,
    0.4 * guess.frequency,
    guess.frequency - 4 * guess.width,
  );
  const high = Math.min(
    highest,
    1.6 * guess.frequency,
    guess.frequency + 4 * guess.width,
  );
  const points = groupBins(spectrum, samples.length, low, high, bandwidth);
  if (points.frequency.length < 8) return null;
  const shapes: LineShape[] = shape === null
    ? ["Gaussian", "Lorentzian"]
    : [shape];
  let best: { fit: Fit; shape: LineShape } | null = null;
  for (const form of shapes) {
    if (best !== null && best.fit.reducedChiSquare < 1.2) break;
    const fit = fitLine(points, guess, form);
    if (fit === null) continue;
    // The Gaussian is kept unless the other form is clearly better.
    if (best === null || fit.deviance < best.fit.deviance - 10) {
      best = { fit, shape: form };
    }
  }
  if (best === null) return null;
  return finish(best.fit, best.shape, points, spectrum, guess);
}

/** Three quarters: nearly every sample then counts the same. */
const overlap = 0.75;

interface Guess {
  readonly frequency: number;
  readonly width: number;
  readonly height: number;
  readonly level: number;
}

interface Points {
  readonly frequency: Float64Array;
  readonly density: Float64Array;
  /** Relative standard deviation that counts in sums over many points. */
  readonly relative: Float64Array;
  /** Relative standard deviation of one point by itself. */
  readonly scatter: Float64Array;
  /** Effective length of the record, in s. */
  readonly duration: number;
}

interface Fit {
  readonly parameters: readonly number[];
  readonly covariance: readonly (readonly number[])[];
  readonly converged: boolean;
  readonly deviance: number;
  readonly reducedChiSquare: number;
}

/** Centre and width from moments of what rises above the background. */
function roughShape(
  samples: Float64Array,
  seen: LineCandidate,
  { samplingRate, lowest, highest }: BroadenedLineOptions,
  longest: number,
): Guess | null {
  const segmentLength = Math.min(
    longest,
    nextPowerOfTwo(6 * samplingRate / seen.resolution),
  );
  const { density, binWidth } = welch(samples, { samplingRate, segmentLength });
  let centre = seen.frequency;
  // From the outside inwards, or a single grain of the speckle is taken for all.
  let width = 8 * seen.resolution;
  for (let pass = 0; pass < 16; pass++) {
    const low = Math.max(lowest, centre - 1.5 * width);
    const high = Math.min(highest, centre + 1.5 * width);
    const from = Math.max(1, Math.ceil(low / binWidth));
    const to = Math.min(density.length - 1, Math.floor(high / binWidth));
    let sum = 0, first = 0, second = 0;
    for (let k = from; k <= to; k++) {
      const excess = density[k]! - seen.background;
      sum += excess;
      first += excess * (k * binWidth - centre);
      second += excess * (k * binWidth - centre) ** 2;
    }
    if (!(sum > 0)) return null;
    const shift = first / sum;
    const spread = Math.sqrt(Math.max(0, second / sum - shift * shift));
    centre += Math.max(-width / 2, Math.min(width / 2, shift));
    // A Gaussian cut at ± 1.5 full widths keeps its spread to 1 %.
    const next = Math.max(binWidth, 2.355 * spread);
    const settled = Math.abs(next / width - 1) < 0.02;
    width = Math.max(0.6 * width, Math.min(2 * width, next));
    if (settled) break;
  }
  if (!(centre > lowest && centre < highest)) return null;
  const from = Math.max(1, Math.round((centre - width / 4) / binWidth));
  const to = Math.max(from, Math.round((centre + width / 4) / binWidth));
  let top = 0;
  for (let k = from; k <= to && k < density.length; k++) {
    top += density[k]! / (to - from + 1);
  }
  return {
    frequency: centre,
    width,
    height: Math.max(top - seen.background, seen.background),
    level: seen.background,
  };
}

/** Joins bins to at most some 120 points and states how sure each one is. */
function groupBins(
  spectrum: Spectrum,
  sampleCount: number,
  low: number,
  high: number,
  bandwidth: number,
): Points {
  const { density, binWidth, segmentLength, samplingRate, effectiveAverages } =
    spectrum;
  const duration = effectiveDuration(spectrum, sampleCount);
  const from = Math.max(1, Math.ceil(low / binWidth));
  const to = Math.min(density.length - 2, Math.floor(high / binWidth));
  const size = Math.max(1, Math.ceil((to - from + 1) / 120));
  const count = Math.max(0, Math.floor((to - from + 1) / size));
  const frequency = new Float64Array(count);
  const joined = new Float64Array(count);
  for (let j = 0; j < count; j++) {
    for (let i = 0; i < size; i++) {
      const f = (from + j * size + i) * binWidth;
      const response = 1 + (f / bandwidth) ** 2;
      joined[j]! += density[from + j * size + i]! * response / size;
      frequency[j]! += f / size;
    }
  }
  const relative = Math.sqrt(segmentLength / (samplingRate * duration * size));
  // Hann: power of bins one and two apart correlates by (2/3)² and (1/6)².
  const correlation = 1 +
    2 * (4 / 9 * (size - 1) + 1 / 36 * Math.max(0, size - 2)) / size;
  const scatter = Math.sqrt(correlation / size / effectiveAverages);
  return {
    frequency,
    density: joined,
    relative: new Float64Array(count).fill(relative),
    scatter: new Float64Array(count).fill(scatter),
    duration,
  };
}

/**
 * Effective length (∫g)² / ∫g², with g the sum of the squared windows over the
 * record: what is left of it for statistics that are smooth in frequency.
 */
function effectiveDuration(spectrum: Spectrum, sampleCount: number): number {
  const { segmentLength, segmentCount, samplingRate, window } = spectrum;
  const hop = Math.max(1, Math.round(segmentLength * (1 - overlap)));
  const values = windowValues(window, segmentLength);
  const cover = new Float64Array(sampleCount);
  for (let s = 0; s < segmentCount; s++) {
    for (let i = 0; i < segmentLength; i++) {
      cover[s * hop + i]! += values[i]! * values[i]!;
    }
  }
  let sum = 0, squares = 0;
  for (const value of cover) {
    sum += value;
    squares += value * value;
  }
  return sum * sum / squares / samplingRate;
}

/** Share of the top below which the wings do not gain further weight. */
const wingFloor = 1e-2;

function fitLine(points: Points, guess: Guess, shape: LineShape): Fit | null {
  const { frequency, density, relative, scatter } = points;
  const model = lineModel(shape);
  const x = frequency.map((f) => (f - guess.frequency) / guess.width);
  const y = density.map((value) => value / guess.height);
  let parameters = [0, 0, 0, Math.log(guess.level / guess.height), 0];
  let result: NonlinearFit | null = null;
  let weights = y;
  for (let pass = 0; pass < 12; pass++) {
    const values = model(parameters, x);
    const floor = wingFloor * Math.exp(parameters[2]!);
    weights = values.map((value, i) => (value + floor) * relative[i]!);
    try {
      result = fitNonlinear(model, x, y, parameters, {
        standardUncertainties: weights,
        jacobian: lineDerivatives(shape),
        names: ["centre", "ln width", "ln height", "ln background", "slope"],
        lower: [-2, -1.1, -12, -40, -6],
        upper: [2, 1.1, 6, 12, 6],
        tolerance: 1e-7,
        maximumIterations: 8,
      });
    } catch (error) {
      if (error instanceof RangeError) return null;
      throw error;
    }
    const next = result.parameters.map(({ value }) => value);
    const moved = Math.abs(next[0]! - parameters[0]!) +
      Math.abs(next[1]! - parameters[1]!) +
      Math.abs(next[2]! - parameters[2]!);
    parameters = next;
    if (moved < 1e-4) break;
  }
  if (result === null) return null;
  const fitted = model(parameters, x);
  const floor = wingFloor * Math.exp(parameters[2]!);
  let deviance = 0;
  let chiSquare = 0;
  let expected = 0;
  for (let i = 0; i < fitted.length; i++) {
    const ratio = (y[i]! + floor) / (fitted[i]! + floor);
    deviance += (ratio - 1 - Math.log(ratio)) / relative[i]! ** 2;
    chiSquare += ((y[i]! - fitted[i]!) / (fitted[i]! + floor)) ** 2;
    expected += (fitted[i]! * scatter[i]! / (fitted[i]! + floor)) ** 2;
  }
  return {
    parameters,
    covariance: sandwich(lineDerivatives(shape)(parameters, x), {
      inverse: result.covariance,
      weights: weights.map((value) => 1 / (value * value)),
      variances: fitted.map((value, i) => (value * relative[i]!) ** 2),
    }),
    deviance,
    converged: result.converged,
    reducedChiSquare: chiSquare / expected,
  };
}

/** (JᵀWJ)⁻¹ JᵀWVWJ (JᵀWJ)⁻¹: W may be lighter than the inverse of V. */
function sandwich(
  columns: readonly Float64Array[],
  { inverse, weights, variances }: {
    inverse: readonly (readonly number[])[];
    weights: Float64Array;
    variances: Float64Array;
  },
): number[][] {
  const size = columns.length;
  const usable = inverse.map((row) =>
    row.map((value) => Number.isFinite(value) ? value : 0)
  );
  const middle = columns.map((first) =>
    columns.map((second) => {
      let sum = 0;
      for (let i = 0; i < weights.length; i++) {
        sum += first[i]! * second[i]! * weights[i]! ** 2 * variances[i]!;
      }
      return sum;
    })
  );
  const product = (a: readonly (readonly number[])[], b: number[][]) =>
    a.map((row) =>
      Array.from(
        { length: size },
        (_, j) => row.reduce((sum, value, k) => sum + value * b[k]![j]!, 0),
      )
    );
  return product(product(usable, middle), usable.map((row) => [...row]));
}

function finish(
  fit: Fit,
  shape: LineShape,
  points: Points,
  spectrum: Spectrum,
  guess: Guess,
): BroadenedLine | null {
  const values = fit.parameters;
  const { covariance } = fit;
  const inflation = Math.max(1, fit.reducedChiSquare);
  const total = Math.exp(values[1]!) * guess.width;
  // Width of the Hann window's own line: 1.44 bins (Harris 1978, Table I).
  const own = 1.44 * spectrum.binWidth;
  const width = Math.sqrt(Math.max(0, total * total - own * own));
  const centreVariance = covariance[0]![0]! * inflation;
  if (!(centreVariance > 0)) return null;
  const model = lineModel(shape);
  const x = points.frequency.map((f) => (f - guess.frequency) / guess.width);
  const height = Math.exp(values[2]!) * guess.height;
  const independentParts = total * points.duration;
  return {
    frequency: guess.frequency + values[0]! * guess.width,
    standardUncertainty: Math.sqrt(centreVariance) * guess.width,
    degreesOfFreedom: Math.max(2, 2 * independentParts - 3),
    width,
    widthStandardUncertainty: Math.sqrt(covariance[1]![1]! * inflation) *
      total * total / Math.max(width, own),
    power: height * total * lineArea(shape),
    background: Math.max(
      0.1 * guess.level,
      Math.exp(values[3]! + values[4]! * values[0]!) * guess.height,
    ),
    shape,
    reducedChiSquare: fit.reducedChiSquare,
    independentParts,
    fitFrequency: points.frequency,
    fitDensity: points.density,
    fitted: model(values, x).map((value) => value * guess.height),
    converged: fit.converged,
  };
}
