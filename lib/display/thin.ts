import { checkpoint } from "../progress/mod.ts";
import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireNumbers,
} from "../options/mod.ts";
/** Points of a thinned trace. */
export interface ThinnedTrace {
  /** Indices into the samples, rising. */
  readonly indices: Uint32Array;
  /** Whether samples were left out. */
  readonly thinned: boolean;
}

/** Options of {@linkcode thinTrace}. */
export interface ThinTraceOptions {
  /**
   * Most points to keep.
   *
   * @default {3000}
   */
  points?: number;
  /**
   * First sample of the stretch.
   *
   * @default {0}
   */
  from?: number;
  /**
   * One past the last sample of the stretch.
   *
   * @default {samples.length}
   */
  to?: number;
}

export const thinSpec = {
  points: optional(optionOf.whole("Most points to keep.", { least: 4 }), 3000),
  from: optional(
    optionOf.whole("First sample of the stretch.", { least: 0 }),
    0,
  ),
  to: optional(
    optionOf.whole("One past the last sample of the stretch.", { least: 0 }),
    undefined,
    "samples.length",
  ),
} satisfies Record<keyof ThinTraceOptions, Option>;

/**
 * Chooses the points of a long trace that a figure needs: of each stretch of
 * samples the lowest and the highest, in their order, so that the drawn line
 * covers the same area and every spike stays. The first and last sample are
 * kept too, and one `NaN` of each stretch of which most is missing, so that ends
 * and gaps show.
 *
 * Source: common practice, no source.
 *
 * @param samples Samples (N), any unit; `NaN` for missing ones.
 * @param options Most points, and the stretch.
 * @returns Indices of the kept samples, at most `points` (and at least 4).
 *
 * @example
 * ```ts
 * import { thinTrace } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * const samples = new Float64Array(1e6);
 * samples[123456] = 1; // one spike
 * const { indices } = thinTrace(samples, { points: 1000 });
 * expect(indices.length).toBeLessThanOrEqual(1000);
 * expect(indices).toContain(123456);
 * ```
 */
export function thinTrace(
  samples: ArrayLike<number>,
  options: ThinTraceOptions = {},
): ThinnedTrace {
  const task = "thin a trace";
  requireNumbers(samples, "samples", task);
  const { points, from, to = samples.length } = readOptions(
    thinSpec,
    options,
    task,
  );
  const count = Math.max(0, to - from);
  if (count <= points) {
    const indices = new Uint32Array(count);
    for (let k = 0; k < count; k++) indices[k] = from + k;
    return { indices, thinned: false };
  }
  // Up to three points a stretch where samples are missing, else two.
  let stretches = Math.floor((points - 2) / 2);
  let indices = pick(samples, from, to, stretches);
  while (indices.length > points) {
    stretches = Math.max(1, Math.floor(stretches * 2 / 3));
    indices = pick(samples, from, to, stretches);
  }
  return { indices, thinned: true };
}

function pick(
  samples: ArrayLike<number>,
  from: number,
  to: number,
  stretches: number,
): Uint32Array {
  const kept = new Uint32Array(3 * stretches + 2);
  let size = 0;
  const keep = (index: number) => {
    if (size === 0 || kept[size - 1]! < index) kept[size++] = index;
  };
  keep(from);
  const width = (to - from) / stretches;
  // A power of two less one, so that some 250 000 samples lie between two.
  const every = 2 ** Math.max(0, Math.floor(Math.log2(262_144 / width))) - 1;
  for (let stretch = 0; stretch < stretches; stretch++) {
    if ((stretch & every) === 0) {
      checkpoint(stretch / stretches, "thin a trace");
    }
    const end = stretch === stretches - 1
      ? to
      : from + Math.floor((stretch + 1) * width);
    const start = from + Math.floor(stretch * width);
    let lowest = -1;
    let highest = -1;
    let missing = -1;
    let missed = 0;
    let low = Infinity;
    let high = -Infinity;
    for (let index = start; index < end; index++) {
      const value = samples[index]!;
      if (value < low) {
        low = value;
        lowest = index;
      }
      if (value > high) {
        high = value;
        highest = index;
      }
      if (value !== value) {
        missing = index;
        missed++;
      }
    }
    // Single samples that are missing leave no gap that could be seen.
    if (2 * missed < end - start) missing = -1;
    const order = [lowest, highest, missing].filter((index) => index >= 0);
    order.sort((a, b) => a - b).forEach(keep);
  }
  keep(to - 1);
  return kept.slice(0, size);
}
