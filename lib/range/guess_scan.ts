import {
  addSums,
  courseOf,
  explained,
  sumCount,
  type Sums,
} from "./guess_model.ts";
import type { TypicalStroke } from "./typical_stroke.ts";

/** Phases, and phase steps, that are tried on a turn. */
export const turnsTried = 12;
/** Places that are tried, from -1 to 1 on the ramp (1). */
export const placesTried = Array.from(
  { length: 25 },
  (_, k) => -0.84 + 0.07 * k,
);

/** Least residual sums of a stroke by phase step and place, over all phases. */
export function scanStroke(member: TypicalStroke, c: number, steps: number) {
  const { x, place, y, sign, direction } = member;
  const places = placesTried.length;
  const bins = places + 1;
  // Bins in order of time.
  const rising = direction === "up";
  const bin = Uint8Array.from(place, (value) => {
    let k = 0;
    while (k < places && placesTried[k]! < value) k++;
    return rising ? k : places - k;
  });
  const total = y.reduce((sum, value) => sum + value * value, 0);
  const sumsOf = (offset: number, before: number): Sums => {
    const at = { c, steps, offset, turns: 0, lag: 0 };
    const { cosine, sine } = courseOf(member, at, before);
    const sums = new Float64Array(bins * sumCount);
    for (let i = 0; i < x.length; i++) {
      addSums(sums, bin[i]! * sumCount, member, i, cosine[i]!, sine[i]!);
    }
    return sums;
  };
  const step = 2 * Math.PI / turnsTried;
  const way = rising ? -1 : 1;
  const sumsBy = (before: number) =>
    Array.from({ length: turnsTried }, (_, k) => sumsOf(k * step, before));
  const first = sumsBy(0);
  // Fringes that do not jump know nothing of how they came there.
  const runningOn = c <= 1 ? first : sumsBy(2);
  const costs = first.map(() => new Float64Array(places).fill(total));
  const offsets = first.map(() => new Float64Array(places));
  const sums = new Float64Array(sumCount);
  for (let k = 0; k < turnsTried; k++) {
    for (let d = 0; d < turnsTried; d++) {
      const second = d === 0
        ? first[k]!
        : runningOn[(k + way * d + turnsTried) % turnsTried]!;
      sums.fill(0);
      for (let b = 0; b < bins; b++) {
        for (let m = 0; m < sumCount; m++) {
          sums[m]! += second[b * sumCount + m]!;
        }
      }
      for (let b = 0; b < places; b++) {
        for (let m = 0; m < sumCount; m++) {
          sums[m]! += first[k]![b * sumCount + m]! -
            second[b * sumCount + m]!;
        }
        const at = rising ? b : places - 1 - b;
        const [pc, qc, ps, qs] = [sums[5]!, sums[6]!, sums[7]!, sums[8]!];
        const cost = total - explained(
          sums[0]! - pc * pc - qc * qc,
          sums[1]! - pc * ps - qc * qs,
          sums[2]! - ps * ps - qs * qs,
          sums[3]!,
          sums[4]!,
          sign,
          total - costs[d]![at]!,
        );
        if (cost < costs[d]![at]!) {
          costs[d]![at] = cost;
          // As it is below the hop.
          offsets[d]![at] = rising ? k * step : k * step + 2 * Math.PI * d /
              turnsTried;
        }
      }
    }
  }
  return { costs, offsets };
}
