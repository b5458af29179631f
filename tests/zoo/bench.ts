/** What `make.py` says of a bench, and the numbers that it wrote to files. */
export interface MadeBench {
  /** Family and number, such as "motion-12". */
  readonly name: string;
  /** Which question is asked. */
  readonly measurement: "displacement" | "steps" | "speed" | "track";
  /** What both sides are told, SI units. */
  readonly given: {
    readonly wavelength: number;
    readonly polarity: 1 | -1;
    readonly couplingCorner: number | null;
    readonly mains: number | null;
    readonly angle: number;
    readonly tuning: number | null;
  };
  /** What was drawn, SI units. */
  readonly bench: BenchDraw;
  /** True values by name, SI units. */
  readonly truth: Readonly<Record<string, number>>;
  /** Standard deviation of the white noise, in the unit of the signal. */
  readonly sigma: number;
  /**
   * Cramér–Rao bound of the full chain: of a displacement in m (rms), else as a
   * part of the value (1); `null` where there is none.
   */
  readonly bound: number | null;
  /** What the script found. */
  readonly scipy: {
    readonly found: Readonly<Record<string, number>>;
    /** Whether it says which way the target moved. */
    readonly told: boolean;
    /** Why it gave up, or `null`. */
    readonly refused: string | null;
    /** CPU time, in s. */
    readonly cpu: number;
  };
  /** Files of float64. */
  readonly files: Readonly<Record<string, string>>;
  /** CPU time in s of the simulation and the bound. */
  readonly cpu: { readonly simulation: number; readonly bound: number };
}

/** What was drawn for a bench. */
export interface BenchDraw {
  readonly family: Family;
  readonly motion: string;
  readonly feedbackClass: string;
  readonly noiseClass: string;
  readonly feedbackParameter: number;
  readonly linewidthEnhancementFactor: number;
  readonly wavelength: number;
  readonly snr: number;
  readonly samples: number;
  readonly samplingRate: number;
  readonly samplesPerFringe: number;
  readonly poleOverFringe: number;
  readonly corner: number | null;
  readonly hum: number;
  readonly speckle: unknown;
  readonly steps?: number;
  readonly low?: number;
  readonly high?: number;
  readonly [other: string]: unknown;
}

/** A family of benches. */
export type Family = "motion" | "range" | "speed" | "spoilt";

/** Reads an array that `make.py` wrote. */
export async function readNumbers(path: string): Promise<Float64Array> {
  const bytes = await Deno.readFile(path);
  return new Float64Array(bytes.buffer, 0, bytes.byteLength >> 3);
}
