import {
  createCapture,
  type Displacement,
  measureDisplacement,
  measureDistance,
  measureRingDown,
  measureSpeed,
  measureSteps,
  measureVibration,
  NotMeasurableError,
  type Quantity,
  trackSpeed,
} from "fringebook";
import type { Warning } from "fringebook/result";
import { type MadeBench, readNumbers } from "./bench.ts";

/** What the library found, in a form that fits through a pipe. */
export interface Found {
  /** Quantities by name, with what they state. */
  readonly quantities: Readonly<Record<string, Stated>>;
  /** Numbers without uncertainty that are compared. */
  readonly numbers: Readonly<Record<string, number>>;
  /** Warnings of the main result: code and severity. */
  readonly warnings: readonly { code: string; severity: string }[];
  /** Whether the way of the motion is said to be known. */
  readonly told: boolean;
  /** Why it gave up, or `null`. */
  readonly refused: string | null;
  /** File of the course (displacement, or times and velocities), or `null`. */
  readonly course: string | null;
  /** Share of samples with a value that lie within 1.96 u of the truth (1). */
  readonly samplesHeld: number | null;
  /** Rms of the stated uncertainty, in m; `null` for others than displacements. */
  readonly rmsUncertainty: number | null;
  /** CPU time of the main function, in s. */
  readonly cpu: number;
}

/** A value with its standard uncertainty and coverage factor, SI units. */
export interface Stated {
  readonly value: number;
  readonly u: number;
  readonly k: number;
}

const stated = ({ value, standardUncertainty, coverageFactor }: Quantity) => ({
  value,
  u: standardUncertainty,
  k: coverageFactor,
});

/** CPU time of this process, in s. */
function cpuTime(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
}

/** Measures a bench as a user would who knows what kind of measurement it is. */
export async function measureBench(made: MadeBench): Promise<Found> {
  const monitor = await readNumbers(made.files["monitor"]!);
  const drive = made.files["drive"] === undefined
    ? null
    : await readNumbers(made.files["drive"]);
  const capture = createCapture([
    { name: "monitor", role: "monitor signal", unit: "V", samples: monitor },
    ...drive === null ? [] : [{
      name: "drive",
      role: "drive current" as const,
      unit: "A",
      samples: drive,
    }],
  ], { samplingRate: made.bench.samplingRate });
  const begin = cpuTime();
  try {
    return await measurements[made.measurement](made, capture, begin);
  } catch (error) {
    // A bug is no refusal, and is counted as a wrong answer.
    const known = error instanceof NotMeasurableError;
    return {
      ...nothing,
      refused: known ? error.message : null,
      numbers: known ? {} : { crashed: 1 },
      warnings: known ? [] : [{ code: `${error}`, severity: "note" }],
      cpu: cpuTime() - begin,
    };
  }
}

/** Of the simulator's motions and speeds; its ramps are in air. */
const vacuum = { refractiveIndex: 1 };

const nothing: Found = {
  quantities: {},
  numbers: {},
  warnings: [],
  told: true,
  refused: null,
  course: null,
  samplesHeld: null,
  rmsUncertainty: null,
  cpu: 0,
};

const brief = (warnings: readonly Warning[]) =>
  warnings.map(({ code, severity }) => ({ code, severity }));

type Measurement = (
  made: MadeBench,
  capture: ReturnType<typeof createCapture>,
  begin: number,
) => Promise<Found>;

const measurements: Record<MadeBench["measurement"], Measurement> = {
  displacement: async (made, capture, begin) => {
    const { wavelength, polarity, couplingCorner, mains } = made.given;
    const result = measureDisplacement(capture, {
      wavelength,
      polarity,
      couplingCorner,
      mainsFrequency: mains,
      ...vacuum,
    });
    const cpu = cpuTime() - begin;
    const way = await readNumbers(made.files["way"]!);
    const course = made.files["monitor"]!.replace(".monitor.", ".ours.");
    await writeNumbers(course, result.displacement);
    return {
      ...nothing,
      cpu,
      course,
      told: result.directionDetermined,
      warnings: brief(result.warnings),
      rmsUncertainty: result.rmsUncertainty,
      samplesHeld: held(result, way),
      quantities: {
        netDisplacement: stated(result.netDisplacement),
        peakToPeak: stated(result.peakToPeak),
        feedbackParameter: stated(result.feedbackParameter),
        linewidthEnhancementFactor: stated(result.linewidthEnhancementFactor),
        ...made.truth["amplitude"] === undefined ? {} : vibrationOf(result),
        ...made.truth["qualityFactor"] === undefined ? {} : ringDownOf(result),
      },
    };
  },
  steps: (made, capture, begin) => {
    const result = measureSteps(capture);
    const cpu = cpuTime() - begin;
    const { tuning, wavelength } = made.given;
    const quantities: Record<string, Stated> = {
      stepsPerCurrent: stated(result.stepsPerCurrent),
      feedbackParameter: stated(result.feedbackParameter),
    };
    const numbers: Record<string, number> = { hops: result.modeHops.length };
    try {
      const distance = measureDistance(result, {
        tuning: {
          tuning: { value: tuning!, standardUncertainty: 0 },
          wavelength: { value: wavelength, standardUncertainty: 0 },
        },
        refractiveIndex: 1.00027,
      });
      quantities["distance"] = stated(distance.distance);
      if (distance.velocity !== null) {
        quantities["velocity"] = stated(distance.velocity);
      }
    } catch {
      numbers["distanceRefused"] = 1;
    }
    return Promise.resolve({
      ...nothing,
      cpu,
      warnings: brief(result.warnings),
      quantities,
      numbers,
    });
  },
  speed: (made, capture, begin) => {
    const { wavelength, angle } = made.given;
    const result = measureSpeed(capture, { wavelength, angle, ...vacuum });
    return Promise.resolve({
      ...nothing,
      cpu: cpuTime() - begin,
      warnings: brief(result.warnings),
      quantities: { speed: stated(result.speed) },
    });
  },
  track: async (made, capture, begin) => {
    const { wavelength, angle } = made.given;
    const result = trackSpeed(capture, { wavelength, angle, ...vacuum });
    const cpu = cpuTime() - begin;
    const course = made.files["monitor"]!.replace(".monitor.", ".ours.");
    await writeNumbers(course, [...result.time, ...result.speed]);
    return {
      ...nothing,
      cpu,
      course,
      warnings: brief(result.warnings),
      quantities: { speed: stated(result.meanSpeed) },
    };
  },
};

function vibrationOf(result: Displacement): Record<string, Stated> {
  try {
    const { amplitude, frequency } = measureVibration(result);
    return { amplitude: stated(amplitude), frequency: stated(frequency) };
  } catch {
    return {};
  }
}

function ringDownOf(result: Displacement): Record<string, Stated> {
  try {
    const { qualityFactor, naturalFrequency } = measureRingDown(result);
    return {
      qualityFactor: stated(qualityFactor),
      naturalFrequency: stated(naturalFrequency),
    };
  } catch {
    return {};
  }
}

/** Share of the samples whose interval holds the truth, medians taken off. */
function held(result: Displacement, way: Float64Array): number {
  const { displacement, standardUncertainty: u } = result;
  const at = [...displacement.keys()].filter((i) =>
    displacement[i]! === displacement[i]!
  );
  const errors = at.map((i) => displacement[i]! - way[i]!);
  const middle = errors.toSorted((a, b) => a - b)[errors.length >> 1]!;
  const inside = at.filter((i, k) =>
    Math.abs(errors[k]! - middle) <= 1.96 * u[i]!
  );
  return inside.length / at.length;
}

async function writeNumbers(path: string, values: ArrayLike<number>) {
  await Deno.writeFile(
    path,
    new Uint8Array(Float64Array.from(values).buffer),
  );
}
