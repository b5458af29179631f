import type { FringeParameters } from "./phase_fit.ts";
import type { Jump } from "./phase_labels.ts";

/** φ0 of consecutive samples; the next block overwrites its arrays. */
export interface PhaseBlock {
  /** Index of the first sample in the stream. */
  readonly first: number;
  /** φ0, in rad. */
  readonly phase: Float64Array;
  /** Standard uncertainty, in rad. */
  readonly uncertainty: Float32Array;
  /** Jumps of φF inside (C > 1), as sample indices of the stream. */
  readonly jumps: readonly Jump[];
  /** Root mean square of the residuals over the amplitude (1). */
  readonly relativeNoise: number;
  /** Places in the block where the fit leaves more than the noise. */
  readonly misfits: number;
  /** Whether the block follows on from the one before without doubt. */
  readonly joined: boolean;
}

/** Where a `PhaseStream` stands; plain data. */
export interface PhaseStreamState {
  /** Samples that wait; `null`, as JSON makes of `NaN`, where one is missing. */
  readonly waiting: readonly (number | null)[];
  readonly start: number;
  readonly next: number;
  readonly join:
    | { readonly index: number; readonly phase: readonly number[] }
    | null;
  readonly parameters: FringeParameters;
  /** How often a block was worked at in vain, and how many to pass now. */
  readonly patience: readonly [vain: number, pause: number];
}

/** Numbers that went through JSON, where `NaN` becomes `null`. */
export function withGaps(values: readonly (number | null)[]): number[] {
  return values.map((value) => value ?? NaN);
}
