import type { CourseFaults } from "./record.ts";

/** An error this far from a whole number of fringes belongs to the next one. */
const slipped = 0.7;
/** Ways shorter than this have no sense, in fringes. */
const leastWay = 0.05;

/**
 * How a displacement goes wrong: fringes that are lost or won, and strokes that are
 * read backwards.
 *
 * @param course The displacement, in m; `NaN` where there is none.
 * @param way The true one, in m.
 * @param half Half a wavelength, in m.
 * @param perFringe Samples in the fastest fringe: over so many the error is averaged.
 */
export function faultsOf(
  course: Float64Array,
  way: Float64Array,
  half: number,
  perFringe: number,
): CourseFaults {
  const block = Math.max(1, Math.round(perFringe));
  const means: { ours: number; truth: number }[] = [];
  for (let from = 0; from + block <= course.length; from += block) {
    let [ours, truth, n] = [0, 0, 0];
    for (let i = from; i < from + block; i++) {
      if (course[i] !== course[i]) continue;
      ours += course[i]! / half;
      truth += way[i]! / half;
      n++;
    }
    if (n > 0) means.push({ ours: ours / n, truth: truth / n });
  }
  let slips = 0, wrong = 0, total = 0;
  let level = means.length > 0 ? means[0]!.ours - means[0]!.truth : 0;
  for (const [k, { ours, truth }] of means.entries()) {
    const off = ours - truth - level;
    if (Math.abs(off) > slipped) {
      slips += Math.abs(Math.round(off));
      level += Math.round(off);
    }
    if (k === 0) continue;
    const went = truth - means[k - 1]!.truth;
    const read = ours - means[k - 1]!.ours;
    if (Math.abs(went) < leastWay) continue;
    total += Math.abs(went);
    if (read * went < 0) wrong += Math.abs(went);
  }
  return { slips, reversed: total === 0 ? 0 : wrong / total };
}
