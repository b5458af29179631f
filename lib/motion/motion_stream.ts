import { NotMeasurableError } from "../errors/mod.ts";
import {
  createSpectrumAverage,
  type Spectrum,
  type SpectrumAverage,
  type SpectrumAverageState,
} from "../signal/mod.ts";
import { ExtremeFinder, type ExtremeFinderState } from "./extremes.ts";
import {
  type FeedbackQuantities,
  feedbackQuantities,
} from "./feedback_quantities.ts";
import { FringeCounter } from "./fringe_counter.ts";
import { turnHeight } from "./long_record.ts";
import { MotionCourse, type MotionCourseState } from "./motion_course.ts";
import { signalScale } from "./signal_scale.ts";
import {
  type PhaseBlock,
  type PhaseStreamState,
  withGaps,
} from "./phase_block.ts";
import { PhaseStream } from "./phase_stream.ts";
import { formUncertainty } from "./phase_uncertainty.ts";
import {
  type FoundVibration,
  StretchVibration,
  type StretchVibrationState,
} from "./stretch_vibration.ts";
import { type StreamTraining, trainOn } from "./training.ts";

/** What a {@linkcode MotionStream} has gathered; plain data. */
export interface MotionStreamState {
  /** The first samples, from which feedback and levels are learned. */
  readonly learned: readonly (number | null)[];
  /**
   * `null` until the first samples are all there.
   *
   * @internal
   */
  readonly going: {
    readonly phase: PhaseStreamState;
    readonly counter: readonly (number | null)[];
    readonly turns: ExtremeFinderState;
    readonly turningPoints: number;
    readonly sums: MotionSums;
    readonly course: MotionCourseState;
    readonly part: readonly [number, number];
    readonly spectrum: SpectrumAverageState;
    readonly vibration: StretchVibrationState;
  } | null;
}

/** What is known of φ0 along a stream, in rad where nothing else is said. */
export interface MotionSums {
  /** Samples that came out. */
  count: number;
  /** φ0 of the first sample. */
  origin: number;
  /** Lowest and highest φ0 against the first sample, and their uncertainty. */
  lowest: number;
  highest: number;
  lowestUncertainty: number;
  highestUncertainty: number;
  /** φ0 of the last sample against the first, and uncertainties at the ends. */
  last: number;
  firstUncertainty: number;
  lastUncertainty: number;
  /** Sum of squared uncertainties, in rad². */
  squares: number;
  /** Places where the fit leaves more than the noise. */
  doubts: number;
  /** Blocks that do not follow on from the one before. */
  seams: number;
}

/** What came of a stream. */
export interface MotionStreamFound {
  readonly feedback: FeedbackQuantities;
  /** Noise over the amplitude (1). */
  readonly relativeNoise: number;
  /** Residual noise of the fit over the noise that was seen beforehand (1). */
  readonly excess: number;
  /** What the form of the fringes leaves open of φ0, rms, in rad. */
  readonly formUncertainty: number;
  /** Whether the fringes are others than the excess-phase equation makes. */
  readonly isForeign: boolean;
  /** Samples between knots of the spline. */
  readonly spacing: number;
  /** Samples of the shortest half fringe. */
  readonly fastest: number;
  readonly counter: FringeCounter;
  readonly turningPoints: number;
  readonly sums: MotionSums;
  readonly course: MotionCourse;
  /** Samples per value of the spectrum. */
  readonly perValue: number;
  /** Density of φ0, in rad²/Hz; `null` for less than one segment. */
  readonly spectrum: Spectrum | null;
  /** Vibration of φ0, in rad; frequency per value. */
  readonly vibration: FoundVibration | null;
}

/** How a {@linkcode MotionStream} works. */
export interface MotionStreamSettings {
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Samples to learn from. */
  readonly trainingSamples: number;
  /** Values per segment of the spectrum. */
  readonly segmentLength: number;
}

const twoPi = 2 * Math.PI;

/**
 * Gathers fringes, displacement, spectrum and vibration from a stream in bounded
 * memory. Works in rad of φ0; knows nothing of wavelengths.
 */
export class MotionStream {
  readonly #settings: MotionStreamSettings;
  readonly #learned: Float64Array;
  #taken = 0;
  #going: Going | null = null;

  constructor(
    settings: MotionStreamSettings,
    state: MotionStreamState | null = null,
  ) {
    this.#settings = settings;
    this.#learned = new Float64Array(settings.trainingSamples);
    if (state === null) return;
    this.#learned.set(withGaps(state.learned));
    this.#taken = state.learned.length;
    if (state.going !== null) this.#going = this.#learn(state);
  }

  /** Takes samples of the monitor signal in. */
  push(samples: ArrayLike<number>): void {
    let from = 0;
    while (
      this.#going === null && from < samples.length &&
      this.#taken < this.#learned.length
    ) this.#learned[this.#taken++] = samples[from++]!;
    if (this.#going === null && this.#taken === this.#learned.length) {
      this.#start();
    }
    this.#going?.stream.push(samples, from);
  }

  /** What was gathered so far, as plain data. */
  state(): MotionStreamState {
    return {
      learned: Array.from(this.#learned.subarray(0, this.#taken)),
      going: this.#going?.state() ?? null,
    };
  }

  /** What came of the whole stream. */
  finish(): MotionStreamFound {
    if (this.#going === null) this.#start();
    return this.#going!.finish();
  }

  #start(): void {
    this.#going = this.#learn(null);
    this.#going.stream.push(this.#learned, 0, this.#taken);
  }

  #learn(state: MotionStreamState | null): Going {
    const part = this.#learned.subarray(0, this.#taken);
    const training = this.#taken < 64 ? null : trainOn(part);
    if (training === null) {
      throw new NotMeasurableError(
        "no fringes",
        `Cannot measure a motion as the first ${this.#taken} samples have no fringes: start while the target moves by more than half a wavelength, or raise 'trainingSamples'`,
      );
    }
    return new Going(training, this.#settings, part, state?.going ?? null);
  }
}

/** A stream that has learned. */
class Going {
  readonly stream: PhaseStream;
  readonly #training: StreamTraining;
  readonly #counter: FringeCounter;
  readonly #turns = new ExtremeFinder(turnHeight);
  #turningPoints = 0;
  readonly #sums: MotionSums;
  readonly #course: MotionCourse;
  /** Samples of one value of spectrum and vibration, and those that wait. */
  readonly #perValue: number;
  readonly #part: [sum: number, count: number];
  readonly #spectrum: SpectrumAverage;
  readonly #vibration: StretchVibration;
  readonly #segmentLength: number;
  readonly #seenNoise: number;

  constructor(
    training: StreamTraining,
    settings: MotionStreamSettings,
    learned: Float64Array,
    state: MotionStreamState["going"],
  ) {
    const { fit } = training;
    this.#training = training;
    this.#counter = new FringeCounter(
      fit.model.p,
      fit.model.feedback > 1,
      false,
    );
    this.#sums = {
      ...state?.sums ?? {
        count: 0,
        origin: 0,
        lowest: 0,
        highest: 0,
        lowestUncertainty: 0,
        highestUncertainty: 0,
        last: 0,
        firstUncertainty: 0,
        lastUncertainty: 0,
        squares: 0,
        doubts: 0,
        seams: 0,
      },
    };
    this.#course = new MotionCourse(state?.course);
    // The spline holds nothing faster than two knots: eight values per knot.
    this.#perValue = Math.max(1, Math.floor(fit.spacing / 8));
    this.#part = [...state?.part ?? [0, 0]];
    this.#segmentLength = settings.segmentLength;
    this.#seenNoise = signalScale(learned).noise;
    this.#spectrum = createSpectrumAverage({
      samplingRate: settings.samplingRate / this.#perValue,
      segmentLength: settings.segmentLength,
      detrending: "linear",
    }, state?.spectrum);
    this.#vibration = new StretchVibration(state?.vibration);
    if (state !== null) {
      const [last, path, receding, approaching] = state.counter;
      this.#counter.last = last ?? NaN;
      this.#counter.path = path!;
      this.#counter.receding = receding!;
      this.#counter.approaching = approaching!;
      this.#turns.restore(state.turns);
      this.#turningPoints = state.turningPoints;
    }
    this.stream = new PhaseStream(
      training,
      (block) => this.#take(block),
      state?.phase,
    );
  }

  state(): NonNullable<MotionStreamState["going"]> {
    const { last, path, receding, approaching } = this.#counter;
    return {
      phase: this.stream.state(),
      counter: [last, path, receding, approaching],
      turns: this.#turns.state(),
      turningPoints: this.#turningPoints,
      sums: { ...this.#sums },
      course: this.#course.state(),
      part: [...this.#part],
      spectrum: this.#spectrum.state(),
      vibration: this.#vibration.state(),
    };
  }

  finish(): MotionStreamFound {
    this.stream.finish();
    const { fit, unwrapped, isForeign } = this.#training;
    const values = Math.floor(this.#sums.count / this.#perValue);
    return {
      feedback: feedbackQuantities(fit),
      relativeNoise: fit.noise / fit.parameters.amplitude,
      excess: fit.noise / this.#seenNoise,
      formUncertainty: formUncertainty(fit),
      isForeign,
      spacing: fit.spacing,
      fastest: unwrapped.detection.fastest,
      counter: this.#counter,
      turningPoints: this.#turningPoints,
      sums: this.#sums,
      course: this.#course,
      perValue: this.#perValue,
      spectrum: values >= this.#segmentLength ? this.#spectrum.finish() : null,
      vibration: this.#vibration.finish(),
    };
  }

  #take(block: PhaseBlock): void {
    const { first, phase, uncertainty } = block;
    const sums = this.#sums;
    this.#counter.take(phase, first, block.jumps);
    this.#turns.take(phase, first);
    // The record's own first sample is no turning point.
    this.#turningPoints += this.#turns.indices.filter((i) => i > 0).length;
    this.#turns.indices.length = 0;
    this.#turns.values.length = 0;
    if (sums.count === 0) {
      sums.origin = phase[0]!;
      sums.firstUncertainty = uncertainty[0]!;
      sums.lowestUncertainty = sums.highestUncertainty = uncertainty[0]!;
    }
    const { origin } = sums;
    let { lowest, highest, squares } = sums;
    let low = -1, high = -1;
    for (let i = 0; i < phase.length; i++) {
      const value = phase[i]! - origin;
      phase[i] = value;
      const u = uncertainty[i]!;
      squares += u * u;
      if (value < lowest) {
        lowest = value;
        low = i;
      } else if (value > highest) {
        highest = value;
        high = i;
      }
    }
    sums.lowest = lowest;
    sums.highest = highest;
    sums.squares = squares;
    if (low >= 0) sums.lowestUncertainty = uncertainty[low]!;
    if (high >= 0) sums.highestUncertainty = uncertainty[high]!;
    sums.count += phase.length;
    sums.last = phase.at(-1)!;
    sums.lastUncertainty = uncertainty.at(-1)!;
    sums.doubts += block.misfits;
    if (!block.joined) sums.seams++;
    this.#course.take(phase);
    this.#values(phase);
    // The stream joins the next block on to this one.
    for (let i = 0; i < phase.length; i++) phase[i]! += origin;
  }

  /** Means of neighbouring samples for spectrum and vibration. */
  #values(phase: Float64Array): void {
    const perValue = this.#perValue;
    let [sum, count] = this.#part;
    const values = new Float64Array(
      Math.floor((phase.length + count) / perValue),
    );
    let filled = 0;
    for (let i = 0; i < phase.length; i++) {
      sum += phase[i]!;
      if (++count < perValue) continue;
      values[filled++] = sum / perValue;
      sum = count = 0;
    }
    this.#part[0] = sum;
    this.#part[1] = count;
    this.#spectrum.push(values);
    for (const value of values) this.#vibration.take(value);
  }
}

/** What a mean over `perValue` samples leaves of a line at f cycles per value. */
export function meanGain(frequency: number, perValue: number): number {
  const angle = twoPi * frequency / perValue / 2;
  return angle === 0
    ? 1
    : Math.sin(perValue * angle) / (perValue * Math.sin(angle));
}
