import { findExtremes } from "./extremes.ts";
import type { Jump } from "./phase_labels.ts";

/** Fringes and turning points of a phase. */
export interface FringeEvents {
  /** Place of each fringe's steep side, in samples. */
  readonly place: Float64Array;
  /** 1 receding, -1 approaching. */
  readonly sign: Int8Array;
  /** Sample index of each turning point. */
  readonly turningPoints: Int32Array;
  /** Total way, in fringes of φ0. */
  readonly path: number;
}

const turn = 2 * Math.PI;

/**
 * Fringes of a phase: where the steep side of the signal passes its middle
 * (C ≤ 1), or where φF jumps (C > 1 all along).
 *
 * @param phase φ0, in rad; `NaN` in gaps.
 * @param p C cos ψ (1).
 * @param jumps The jumps seen, or `null` where C is not above 1 all along.
 * @param threshold Smallest excursion between turning points, in rad.
 * @returns Fringes and turning points.
 */
export function fringeEvents(
  phase: Float64Array,
  p: number,
  jumps: readonly Jump[] | null,
  threshold: number,
): FringeEvents {
  const places: number[] = [];
  const signs: number[] = [];
  const reference = Math.PI / 2 + p;
  let path = 0;
  let before = NaN;
  let number = 0;
  for (let i = 0; i < phase.length; i++) {
    const value = phase[i]!;
    if (value !== value) {
      before = NaN;
      continue;
    }
    const next = Math.floor((value - reference) / turn);
    if (before === before) {
      path += Math.abs(value - before);
      if (jumps === null && next !== number) {
        const sign = next > number ? 1 : -1;
        const level = turn * Math.max(next, number) + reference;
        places.push(i - 1 + (level - before) / (value - before));
        signs.push(sign);
      }
    }
    number = next;
    before = value;
  }
  for (const { first, last, sign } of jumps ?? []) {
    places.push((first + last) / 2);
    signs.push(sign);
  }
  const { index } = findExtremes(phase, threshold);
  return {
    place: Float64Array.from(places),
    sign: Int8Array.from(signs),
    turningPoints: index.filter((i) => i > 0 && i < phase.length - 1),
    path: path / turn,
  };
}
