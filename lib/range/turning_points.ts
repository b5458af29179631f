import { extremesOf } from "../order/mod.ts";
import { checkpoint } from "../progress/mod.ts";

/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;
/** As many, of loops that call nothing. */

/** A monotonic part of the drive between two turning points. */
export interface RawStroke {
  /** Whether the drive rises. */
  readonly rising: boolean;
  /** Turning points, in samples (not whole). */
  readonly from: number;
  readonly to: number;
  /** Whether the stroke begins and ends at a turning point of the drive. */
  readonly complete: boolean;
}

/**
 * Finds where a drive turns round: an extremum counts once the drive has come
 * back by 30 % of its range, so noise and quantisation make none. Between
 * straight strokes the turning point is where the two lines meet.
 */
export function findStrokes(drive: Float64Array): RawStroke[] {
  const n = drive.length;
  const [low, high] = extremesOf(drive);
  const back = 0.3 * (high - low);
  if (!(back > 0)) return [];
  const extrema: { index: number; high: boolean }[] = [];
  let top = 0;
  let bottom = 0;
  let highest = drive[0]!;
  let lowest = highest;
  let rising: boolean | null = null;
  for (let i = 1; i < n; i++) {
    if ((i & stride) === stride) checkpoint(NaN, "find ramps");
    const value = drive[i]!;
    if (value > highest && rising !== false) {
      top = i;
      highest = value;
    }
    if (value < lowest && rising !== true) {
      bottom = i;
      lowest = value;
    }
    if (value < highest - back && rising !== false) {
      if (rising === true || top > 0) extrema.push({ index: top, high: true });
      rising = false;
      [bottom, lowest] = [i, value];
    } else if (value > lowest + back && rising !== true) {
      if (rising === false || bottom > 0) {
        extrema.push({ index: bottom, high: false });
      }
      rising = true;
      [top, highest] = [i, value];
    }
  }
  if (rising === null) return [];
  const first = extrema[0];
  const bounds = [
    { index: 0, high: first ? !first.high : !rising },
    ...extrema,
    { index: n - 1, high: rising },
  ];
  const lines = bounds.slice(1).map((end, k) =>
    middleLine(drive, bounds[k]!.index, end.index)
  );
  const refined = bounds.map((bound, k) => {
    const [before, after] = [lines[k - 1], lines[k]];
    if (!before || !after) return bound.index;
    const meet = (after.intercept - before.intercept) /
      (before.slope - after.slope);
    const room = 0.1 *
      Math.min(
        bound.index - bounds[k - 1]!.index,
        bounds[k + 1]!.index - bound.index,
      );
    return Math.abs(meet - bound.index) <= Math.max(2, room)
      ? meet
      : bound.index;
  });
  return lines.map((_, k) => ({
    rising: bounds[k + 1]!.high,
    from: refined[k]!,
    to: refined[k + 1]!,
    complete: k > 0 && k < lines.length - 1,
  }));
}

/** Line through the middle 60 % of a stroke; `null` if it has too few samples. */
function middleLine(drive: Float64Array, from: number, to: number) {
  const start = Math.ceil(from + 0.2 * (to - from));
  const end = Math.floor(to - 0.2 * (to - from));
  const count = end - start + 1;
  if (count < 3) return null;
  const centre = (start + end) / 2;
  let sum = 0;
  let above = 0;
  checkpoint();
  for (let i = start; i <= end; i++) {
    sum += drive[i]!;
    above += (i - centre) * drive[i]!;
  }
  // Σ (i - centre)² = count (count² - 1)/12
  const slope = 12 * above / (count * (count * count - 1));
  return { slope, intercept: sum / count - slope * centre };
}
