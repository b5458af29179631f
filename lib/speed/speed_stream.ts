import {
  type BlockSource,
  type Capture,
  requireChannel,
  runBlocks,
  type StreamRunOptions,
} from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import {
  type Option,
  pickOptions,
  readOptions,
  requireStream,
  streamRunOptions,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  quantity,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import {
  createSpectrumAverage,
  type SpectrumAverageState,
} from "../signal/mod.ts";
import type { Direction } from "./direction.ts";
import { lineCoverageFactor } from "./doppler_line.ts";
import {
  measureSpeed,
  type MeasureSpeedOptions,
  measureSpeedSpec,
  type SpeedMeasurement,
} from "./measure_speed.ts";
import { type ReadSpeedInputs, speedWithBudget } from "./speed_budget.ts";

/** Options of {@linkcode measureSpeedStream}. */
export interface SpeedStreamOptions
  extends MeasureSpeedOptions, StreamRunOptions<SpeedStreamState> {}

export const speedStreamSpec = {
  ...measureSpeedSpec,
  ...streamRunOptions,
} satisfies Record<keyof SpeedStreamOptions, Option>;

/** What {@linkcode measureSpeedStream} has gathered; plain data. */
export interface SpeedStreamState {
  /**
   * Speeds of the blocks so far.
   *
   * @internal
   */
  readonly blocks: readonly BlockSpeed[];
  /** Blocks without a line so far. */
  readonly missed: number;
  /** The average of the spectra so far. */
  readonly spectrum: SpectrumAverageState;
}

/** What is kept of one block. */
interface BlockSpeed {
  /** Frequency of the line, in Hz, and its standard uncertainty. */
  readonly frequency: number;
  readonly standardUncertainty: number;
  readonly width: number;
  readonly widthStandardUncertainty: number;
  readonly signalToNoise: number;
  readonly broadened: boolean;
  readonly direction: Direction;
  readonly asymmetry: number;
  readonly significance: number;
  readonly warnings: readonly Warning[];
}

const task = "measure a speed";

/**
 * Measures the mean speed of a surface over a capture of any length: each block
 * as by {@linkcode measureSpeed}, then the mean of the blocks weighted by their
 * variances. The uncertainty is that of the blocks, or their scatter where that
 * is larger (JCGM 100:2008, 4.2). For a capture of one block it is the result of
 * {@linkcode measureSpeed}.
 *
 * @param source The opened capture, or another source of blocks.
 * @param options As for {@linkcode measureSpeed}, with what to do on the way. A
 * block has 524288 samples where `blockLength` is left out: longer ones see
 * weaker lines.
 * @returns Speed in m/s, line, direction, uncertainty budget. The spectrum is
 * the average over the whole capture; the fitted line is that of the first block.
 * @throws {NotMeasurableError} If no block shows a line.
 * @throws {RangeError} If an option is out of range or a sample is missing.
 *
 * @example
 * ```ts
 * import {
 *   measureSpeedStream,
 *   simulateCapture,
 *   streamOfCapture,
 * } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 2e-3 * time,
 *   samplingRate: 100_000,
 *   duration: 0.5,
 *   feedbackParameter: 0.7,
 *   noise: { signalToNoiseRatio: 20 },
 * });
 * const { speed, direction } = await measureSpeedStream(
 *   streamOfCapture(capture),
 *   { wavelength: 650e-9, blockLength: 10_000 },
 * );
 * expect(speed.value).toBeCloseTo(2e-3, 6);
 * expect(direction).toBe("receding");
 * ```
 */
export async function measureSpeedStream(
  source: BlockSource,
  options: SpeedStreamOptions,
): Promise<SpeedMeasurement & Shown> {
  requireStream(source, task);
  const read = readOptions(speedStreamSpec, options, task);
  const { blockLength = 1 << 19, signal, resume, onBlock } = read;
  const measuring = pickOptions(measureSpeedSpec, options);
  const { samplingRate } = source;
  const length = Math.min(blockLength, source.sampleCount ?? blockLength);
  const segmentLength = Math.min(
    1 << 14,
    2 ** Math.floor(Math.log2(Math.max(16, length))),
  );
  const spectrum = createSpectrumAverage(
    { samplingRate, segmentLength },
    resume?.gathered.spectrum ?? null,
  );
  const blocks: BlockSpeed[] = [...resume?.gathered.blocks ?? []];
  let missed = resume?.gathered.missed ?? 0;
  let sampleCount = resume?.point.sample ?? 0;
  let first: SpeedMeasurement | null = null;
  let failure: NotMeasurableError | null = null;
  const measure = (capture: Capture) => {
    try {
      const measured = measureSpeed(capture, measuring);
      first ??= measured;
      blocks.push(blockSpeed(measured));
    } catch (error) {
      if (!(error instanceof NotMeasurableError)) throw error;
      failure ??= error;
      missed++;
    }
  };
  await runBlocks(source, {
    name: "measureSpeedStream",
    push: (capture, start) => {
      sampleCount = start + capture.sampleCount;
      spectrum.push(requireChannel(capture, "monitor signal").samples);
      // A last crumb of a block says little.
      if (start === 0 || capture.sampleCount >= blockLength / 4) {
        measure(capture);
      }
    },
    state: () => ({
      blocks: [...blocks],
      missed,
      spectrum: spectrum.state(),
    }),
  }, {
    blockLength,
    resume,
    ...(signal === undefined ? {} : { signal }),
    ...(onBlock === undefined ? {} : { onBlock }),
  });
  const shown = first as SpeedMeasurement | null;
  if (shown === null) {
    throw failure ?? new NotMeasurableError(
      "no line",
      `Cannot ${task} as no block came after the state to resume from: resume from an earlier one`,
    );
  }
  return combine(blocks, missed, shown, {
    source,
    options: read,
    blockLength,
    duration: sampleCount / samplingRate,
    spectrum: spectrum.finish(),
  });
}

function blockSpeed(measured: SpeedMeasurement): BlockSpeed {
  const { dopplerFrequency, lineWidth, diagnostics } = measured;
  return {
    frequency: dopplerFrequency.value,
    standardUncertainty: dopplerFrequency.standardUncertainty,
    width: lineWidth.value,
    widthStandardUncertainty: lineWidth.standardUncertainty,
    signalToNoise: measured.signalToNoise,
    broadened: measured.lineForm === "broadened",
    direction: measured.direction,
    asymmetry: diagnostics.sawToothAsymmetry,
    significance: diagnostics.sawToothSignificance,
    warnings: measured.warnings,
  };
}

/** What {@linkcode combine} needs beside the blocks. */
interface Whole {
  readonly source: BlockSource;
  readonly options: ReadSpeedInputs;
  readonly blockLength: number;
  readonly duration: number;
  readonly spectrum: { frequency: Float64Array; density: Float64Array };
}

function combine(
  blocks: readonly BlockSpeed[],
  missed: number,
  first: SpeedMeasurement,
  { source, options, blockLength, duration, spectrum }: Whole,
): SpeedMeasurement & Shown {
  const n = blocks.length;
  let weights = 0, sum = 0;
  for (const { frequency, standardUncertainty } of blocks) {
    const weight = 1 / standardUncertainty ** 2;
    weights += weight;
    sum += weight * frequency;
  }
  const centre = sum / weights;
  let excess = 0;
  for (const { frequency, standardUncertainty } of blocks) {
    excess += ((frequency - centre) / standardUncertainty) ** 2;
  }
  // Birge ratio: scatter of the blocks over what their uncertainties allow.
  const ratio = n > 1 ? Math.sqrt(excess / (n - 1)) : 1;
  const widened = ratio > 1;
  const degreesOfFreedom = n === 1
    ? first.dopplerFrequency.degreesOfFreedom
    : widened
    ? n - 1
    : Infinity;
  const frequency = quantity(
    centre,
    Math.max(1, ratio) / Math.sqrt(weights),
    "Hz",
    { degreesOfFreedom, coverageFactor: lineCoverageFactor(degreesOfFreedom) },
  );
  const { speed, budget } = speedWithBudget(frequency, options, task);
  const broadened = blocks.filter((block) => block.broadened).length;
  const mean = (of: (block: BlockSpeed) => number) =>
    blocks.reduce((total, block) => total + of(block), 0) / n;
  return createResult<SpeedMeasurement>({
    ...first,
    speed,
    dopplerFrequency: frequency,
    lineWidth: quantity(
      mean(({ width }) => width),
      Math.sqrt(mean((block) => block.widthStandardUncertainty ** 2) / n),
      "Hz",
    ),
    signalToNoise: mean((block) => block.signalToNoise),
    lineForm: broadened > n / 2 ? "broadened" : "clean",
    direction: directionOf(blocks),
    budget,
    warnings: [
      ...source.warnings.filter(({ severity }) => severity === "doubtful"),
      ...merged(blocks),
      ...courseWarnings(ratio, missed, n),
    ],
    provenance: provenance({
      method: "measureSpeedStream",
      captures: first.provenance.captures,
      options: { ...first.provenance.options, blockLength },
      inputs: first.provenance.inputs,
      sources: first.provenance.sources,
    }),
    diagnostics: {
      ...first.diagnostics,
      frequency: spectrum.frequency,
      density: spectrum.density,
      backgroundDensity: n === 1 ? first.diagnostics.backgroundDensity : null,
      sawToothAsymmetry: mean(({ asymmetry }) => asymmetry),
      sawToothSignificance: Math.sqrt(n) *
        mean(({ significance }) => significance),
      independentParts: n * first.diagnostics.independentParts,
      duration,
    },
  });
}

/** The direction that nine tenths of the blocks agree on. */
function directionOf(blocks: readonly BlockSpeed[]): Direction {
  const count = (direction: Direction) =>
    blocks.filter((block) => block.direction === direction).length;
  const away = count("receding"), near = count("approaching");
  const most = 0.9 * (away + near);
  if (away + near === 0) return "not determined";
  return away >= most
    ? "receding"
    : near >= most
    ? "approaching"
    : "not determined";
}

function courseWarnings(
  ratio: number,
  missed: number,
  blocks: number,
): Warning[] {
  const warnings: Warning[] = [];
  if (ratio > 3) {
    warnings.push(warn(
      "unsteady",
      `The blocks scatter by ${
        ratio.toPrecision(2)
      } times their uncertainties: the speed changes along the capture, and the value is its mean. Follow it with trackSpeedStream()`,
      ratio > 10 ? "doubtful" : "note",
    ));
  }
  if (missed > 0) {
    warnings.push(warn(
      "blocks-without-line",
      `${missed} of ${
        missed + blocks
      } blocks show no line; the value is the mean of the others`,
      missed > 0.2 * blocks ? "doubtful" : "note",
    ));
  }
  return warnings;
}

/** One warning per code, with the number of blocks that have it. */
function merged(blocks: readonly BlockSpeed[]): Warning[] {
  if (blocks.length === 1) return [...blocks[0]!.warnings];
  const found = new Map<string, { warning: Warning; count: number }>();
  for (const { warnings } of blocks) {
    for (const warning of warnings) {
      const entry = found.get(warning.code);
      if (entry === undefined) found.set(warning.code, { warning, count: 1 });
      else entry.count++;
    }
  }
  return [...found.values()].map(({ warning, count }) =>
    warn(
      warning.code,
      `In ${count} of ${blocks.length} blocks: ${warning.message}`,
      count > 0.1 * blocks.length ? warning.severity : "note",
    )
  );
}
