import {
  benchOptions,
  choiceOption,
  handedOption,
  listOption,
  type Option,
  optional,
  optionOf,
  readOptions,
} from "../options/mod.ts";
import { followFeedback } from "./feedback_course.ts";
import { evenly, legendreColumns } from "./normal_equations.ts";

/** A parameter of the ramp that {@linkcode stepBound} can take as known. */
export type StepNuisance =
  | "level"
  | "slope of the power"
  | "bend of the power"
  | "amplitude"
  | "linewidth enhancement factor"
  | "feedback parameter"
  | "phase";

/** Options of {@linkcode stepBound}. */
export interface StepBoundOptions {
  /** Steps per whole ramp (1). */
  steps: number;
  /** Samples used of each stroke (1). */
  samples: number;
  /** White noise (rms) over the amplitude of the fringe (1). */
  relativeNoise: number;
  /**
   * Strokes, in turn up and down (1).
   *
   * @default {1}
   */
  strokes?: number;
  /**
   * Feedback parameter C (1).
   *
   * @default {0}
   */
  feedbackParameter?: number;
  /**
   * Linewidth enhancement factor α (1).
   *
   * @default {5}
   */
  linewidthEnhancementFactor?: number;
  /**
   * Phase φ0 in the middle of the ramp, in rad.
   *
   * @default {0}
   */
  phase?: number;
  /**
   * Part of the ramp that is used (1).
   *
   * @default {0.96}
   */
  part?: number;
  /**
   * Growth of the amplitude of the fringe from the middle to the end of the
   * ramp, over its amplitude in the middle (1): that of the power.
   *
   * @default {0}
   */
  growth?: number;
  /**
   * Standard uncertainty with which the bend of the power against current is
   * known beforehand, over the amplitude of the fringe (1).
   *
   * @default {Infinity}
   */
  powerBend?: number;
  /**
   * Order of the polynomial of current that the phase follows (1): 1 where the
   * tuning is known to be linear.
   *
   * @default {1}
   */
  phaseOrder?: number;
  /**
   * What is known beforehand.
   *
   * @default {[]}
   */
  known?: readonly StepNuisance[];
  /**
   * What is known of the place of a jump: nothing, that it lies between two
   * samples, or what the samples on its edge tell after an amplifier of one pole
   * with this bandwidth over the sampling rate (1). See {@linkcode stepBound}.
   *
   * @default {"nothing"}
   */
  jumps?: "nothing" | "between samples" | { readonly bandwidth: number };
}

const nuisances: readonly StepNuisance[] = [
  "level",
  "slope of the power",
  "bend of the power",
  "amplitude",
  "linewidth enhancement factor",
  "feedback parameter",
  "phase",
];

export const boundSpec = {
  steps: optionOf.positive("Steps per whole ramp (1)."),
  samples: optionOf.whole("Samples used of each stroke (1).", { least: 8 }),
  relativeNoise: optionOf.positive(
    "White noise (rms) over the amplitude of the fringe (1).",
  ),
  strokes: optional(
    optionOf.whole("Strokes, in turn up and down (1).", { least: 1 }),
    1,
  ),
  feedbackParameter: optional(benchOptions.feedbackParameter, 0),
  linewidthEnhancementFactor: benchOptions.linewidthEnhancementFactor,
  phase: optional(
    optionOf.finite("Phase φ0 in the middle of the ramp, in rad.", "rad"),
    0,
  ),
  part: optional(optionOf.positive("Part of the ramp that is used (1)."), 0.96),
  growth: optional(
    optionOf.finite(
      "Growth of the amplitude from middle to end of the ramp (1).",
    ),
    0,
  ),
  powerBend: optional(
    optionOf.positive("Standard uncertainty of the bend of the power (1)."),
    Infinity,
  ),
  phaseOrder: optional(
    optionOf.whole("Order of the polynomial that the phase follows (1).", {
      least: 1,
    }),
    1,
  ),
  known: optional(
    listOption(
      "What is known beforehand.",
      choiceOption("A parameter of the ramp.", nuisances),
    ),
    [] as StepNuisance[],
  ),
  jumps: optional(
    handedOption<NonNullable<StepBoundOptions["jumps"]>>(
      "What is known of the place of a jump.",
      '"nothing", "between samples" or { bandwidth }',
      (value) =>
        value === "nothing" || value === "between samples" ||
        typeof (value as { bandwidth?: unknown } | null)?.bandwidth ===
          "number",
    ),
    "nothing",
  ),
} satisfies Record<keyof StepBoundOptions, Option>;

/** The least standard uncertainty that an unbiased count can have. */
export interface StepBound {
  /** Of the steps per whole ramp (1). */
  readonly standardUncertainty: number;
  /**
   * The same for a cosine on a known level with unknown amplitude and phase (1).
   */
  readonly cosine: number;
  /** Jumps that fall on the strokes used (1). */
  readonly jumps: number;
}

/**
 * Cramér–Rao bound of the steps on a ramp for the waveform that a laser diode
 * really makes: fringes that lean (C, α), on a power ramp, none of which is
 * known beforehand.
 *
 * With x from -1 to 1 along the ramp, P_k the Legendre polynomials and
 * independent normal noise e_i of standard deviation σ the samples are
 *
 *   y_i = b₀ + b₁P₁(x_i) + b₂P₂(x_i) + (1 + g x_i)(A cos z_i + B sin z_i) + e_i,
 *   z + C sin z = t,  t = t₀ - πN x - c₂P₂(x) - …,  z = φF + arctan α,
 *
 * where A = a cos arctan α and B = a sin arctan α. The log-likelihood is
 * -Σ (y_i - f_i(θ))²/2σ², so the Fisher information of the parameters
 * θ = (N, t₀, C, A, B, b₀, b₁, b₂, c₂ …) is
 *
 *   J_kl = Σ_i (∂f_i/∂θ_k)(∂f_i/∂θ_l) / σ²,
 *   ∂f/∂t = (1 + g x)(B cos z - A sin z) / (1 + C cos z),
 *   ∂f/∂N = -πx ∂f/∂t,  ∂f/∂C = -sin z ∂f/∂t,
 *
 * the last since z + C sin z = t gives dz/dC = -sin z / (1 + C cos z). No
 * unbiased estimate has u²(N) below [J⁻¹]_NN (Cramér 1946, Rao 1945). What is
 * known beforehand leaves its row and column out; a bend of the power known to
 * u(b₂) adds 1/u²(b₂) to its diagonal. All strokes share every parameter: the
 * target rests.
 *
 * For C = 0 and the level known this is the variance of a frequency (Rife &
 * Boorstyn 1974), u²(N) = 12 / ((2π)² n SNR) over the part of the ramp in use:
 * the field `cosine`. The unknown power ramp makes it larger below about 3
 * steps, and far larger below 1.5, where a fringe is nearly a parabola; the
 * unknown C and α cost most there too.
 *
 * Jumps (C > 1) are no regular part of this problem: f is not continuous in θ
 * there, the place of a jump is known to a part of a sample whatever the noise,
 * and no Cramér–Rao bound exists for it. Between jumps a saw-tooth is nearly
 * straight, so that a change of N looks like a steeper power ramp; only the
 * jumps tell the two apart. Three statements are made, all without the samples
 * next to a jump in the sum above:
 *
 * - `"nothing"`: the branches alone. Every count that looks at the jumps beats it.
 * - `"between samples"`: a jump is a reading of t(x) with the variance Δ²/12 of a
 *   place between two samples Δ apart (in rad of t), where
 *   t(x_jump) = ±(arccos(-1/C) + √(C² - 1)) + 2πm. What a count reaches that
 *   sees sharp edges only.
 * - `{ bandwidth }`: behind an amplifier of one pole the edge of height h is
 *   h k^u, k = exp(-2π bandwidth), u samples after it, and regular again: its
 *   place in samples has the information Σ_j (h ln k)² k^(2(j+u)) / σ², on the
 *   average over u (h² |ln k| / 2σ²). The pole is taken as known: a bound that
 *   a count which must find it out does not reach.
 *
 * @param options The ramp, the fringes, what is known.
 * @returns Least standard uncertainty of the steps, and of all parameters.
 * @throws {RangeError} If a number makes no sense or the samples do not
 * determine the steps.
 *
 * Source: Rife & Boorstyn 1974 for the cosine.
 *
 * @example
 * ```ts
 * import { stepBound } from "fringebook/range";
 * import { expect } from "vitest";
 *
 * const at = (steps: number) =>
 *   stepBound({ steps, samples: 500, relativeNoise: 0.03, feedbackParameter: 0.5 });
 * // Many steps: as a cosine; a single one: the power ramp looks alike.
 * expect(at(30).standardUncertainty / at(30).cosine).toBeLessThan(1.3);
 * expect(at(1).standardUncertainty / at(1).cosine).toBeGreaterThan(10);
 * ```
 */
export function stepBound(options: StepBoundOptions): StepBound {
  const task = "bound a count";
  const {
    steps,
    samples,
    relativeNoise,
    strokes,
    feedbackParameter: c,
    linewidthEnhancementFactor,
    phase,
    part,
    growth,
    powerBend,
    phaseOrder,
    known,
    jumps: reading,
  } = readOptions(boundSpec, options, task);
  const theta = Math.atan(linewidthEnhancementFactor);
  const [a, b] = [Math.cos(theta), Math.sin(theta)];
  const names = [
    "steps",
    "phase",
    "feedback parameter",
    "amplitude",
    "linewidth enhancement factor",
    "level",
    "slope of the power",
    "bend of the power",
    ...Array.from(
      { length: phaseOrder - 1 },
      () => "bend of the tuning" as const,
    ),
  ] as const;
  const columns = names.map((): number[] => []);
  let jumpCount = 0;
  for (let stroke = 0; stroke < strokes; stroke++) {
    const side = stroke % 2 === 0 ? part : -part;
    const x = evenly(samples).map((u) => side * u);
    const t = x.map((value) => phase + theta - Math.PI * steps * value);
    const turn = phase + theta + Math.PI * steps * Math.sign(side);
    const course = followFeedback(x, t, turn, c, null);
    const polynomials = legendreColumns(x, Math.max(2, phaseOrder));
    for (let i = 0; i < samples; i++) {
      if (course.weight[i] === 0) continue;
      const z = course.angle[i]!;
      const [cos, sin] = [Math.cos(z), Math.sin(z)];
      const envelope = 1 + growth * x[i]!;
      const byPhase = envelope * (b * cos - a * sin) / (1 + c * cos);
      const row = [
        -Math.PI * x[i]! * byPhase,
        byPhase,
        -sin * byPhase,
        envelope * (a * cos + b * sin),
        envelope * (a * sin - b * cos),
        1,
        x[i]!,
        polynomials[2]![i]!,
      ];
      for (let k = 2; k <= phaseOrder; k++) {
        row.push(-polynomials[k]![i]! * byPhase);
      }
      row.forEach((value, j) => columns[j]!.push(value / relativeNoise));
    }
    jumpCount += course.jumps.length;
    if (reading === "nothing") continue;
    for (const { x: place, index, sign, perSample } of course.jumps) {
      const at = legendreColumns(Float64Array.of(place), phaseOrder);
      const row = new Array<number>(names.length).fill(0);
      row[0] = -Math.PI * place;
      row[1] = 1;
      row[2] = -sign * Math.sqrt(c * c - 1) / c;
      for (let k = 2; k <= phaseOrder; k++) row[6 + k] = -at[k]![0]!;
      const height = Math.cos(course.angle[index]! - theta) -
        Math.cos(course.angle[index - 1]! - theta);
      const samplesOff = reading === "between samples"
        ? 1 / Math.sqrt(12)
        : relativeNoise / Math.abs(height) /
          Math.sqrt(Math.PI * reading.bandwidth);
      const deviation = Math.abs(perSample) * samplesOff;
      row.forEach((value, j) => columns[j]!.push(value / deviation));
    }
  }
  names.forEach((name, j) =>
    columns[j]!.push(name === "bend of the power" ? 1 / powerBend : 0)
  );
  const nuisance = names.flatMap((name, j) =>
    j === 0 || (known as readonly string[]).includes(name)
      ? []
      : [Float64Array.from(columns[j]!)]
  );
  const left = leftOver(Float64Array.from(columns[0]!), nuisance);
  if (left === 0) {
    throw new RangeError(
      `Cannot bound a count as ${samples} samples on ${strokes} strokes do not tell ${steps} steps from what else is unknown: take more steps, or state what is known`,
    );
  }
  return {
    standardUncertainty: 1 / left,
    cosine: relativeNoise * Math.sqrt(6 / (samples * strokes)) /
      (Math.PI * part),
    jumps: jumpCount,
  };
}

/**
 * Length of the part of a column that no combination of others makes: 1/√[J⁻¹]
 * of its parameter. Others that depend on one another count once.
 */
function leftOver(
  column: Float64Array,
  others: readonly Float64Array[],
): number {
  const basis: Float64Array[] = [];
  const dot = (p: Float64Array, q: Float64Array) => {
    let sum = 0;
    for (let i = 0; i < p.length; i++) sum += p[i]! * q[i]!;
    return sum;
  };
  const remove = (from: Float64Array) => {
    const before = Math.sqrt(dot(from, from));
    // Twice is enough (Kahan; Parlett 1980, from memory).
    for (let pass = 0; pass < 2; pass++) {
      for (const direction of basis) {
        const part = dot(from, direction);
        for (let i = 0; i < from.length; i++) from[i]! -= part * direction[i]!;
      }
    }
    const after = Math.sqrt(dot(from, from));
    return after > 1e-9 * before ? after : 0;
  };
  for (const other of others) {
    const left = remove(other);
    if (left > 0) basis.push(other.map((value) => value / left));
  }
  return remove(column);
}
