import { extremesOf } from "../order/mod.ts";
import { checkpoint } from "../progress/mod.ts";

/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;
/** Part of its rise by which a stroke is bent (1): then its ends tell where it turns. */
const bent = 5e-3;

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
 * straight strokes the turning point is where the two lines meet, between bent ones
 * where lines through their near ends do.
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
  const places = bounds.map(({ index }) => index);
  const middle = places.slice(1).map((end, k) =>
    lineThrough(drive, places[k]!, end, 0.2, 0.8)
  );
  const straight = meetings(places, middle, middle);
  // Between whole strokes that turn out bent, all alike, the near ends tell.
  const bends = straight.slice(1, -2).map((from, k) =>
    bendOf(drive, from, straight[k + 2]!)
  );
  const near = (first: number, last: number) =>
    places.slice(1).map((end, k) =>
      lineThrough(drive, places[k]!, end, first, last)
    );
  const usual = bends.sort((a, b) => a - b)[bends.length >> 1] ?? 0;
  const refined = Math.abs(usual) > bent
    ? meetings(places, near(0.7, 0.95), near(0.05, 0.3))
    : straight;
  return middle.map((_, k) => ({
    rising: bounds[k + 1]!.high,
    from: refined[k]!,
    to: refined[k + 1]!,
    complete: k > 0 && k < middle.length - 1,
  }));
}

/**
 * Where the lines through neighbouring strokes meet, near the places given; the
 * place where they do not.
 *
 * @param ends The line through each stroke towards its end.
 * @param begins The line through each from its beginning.
 */
function meetings(
  places: readonly number[],
  ends: readonly (Line | null)[],
  begins: readonly (Line | null)[],
): number[] {
  return places.map((place, k) => {
    const [before, after] = [ends[k - 1], begins[k]];
    if (!before || !after) return place;
    const meet = (after.intercept - before.intercept) /
      (before.slope - after.slope);
    const room = 0.1 *
      Math.min(place - places[k - 1]!, places[k + 1]! - place);
    return Math.abs(meet - place) <= Math.max(2, room) ? meet : place;
  });
}

interface Line {
  readonly slope: number;
  readonly intercept: number;
  /** Mean of the samples. */
  readonly mean: number;
}

/**
 * How far the middle of a stroke is off the line through its quarters, over its rise:
 * of one sign on strokes that bend alike, rising or falling.
 */
function bendOf(drive: Float64Array, from: number, to: number): number {
  const [first, middle, last] = [0.05, 0.375, 0.7].map((part) =>
    lineThrough(drive, from, to, part, part + 0.25)
  );
  if (!first || !middle || !last) return 0;
  const ends = (first.mean + last.mean) / 2;
  return (middle.mean - ends) / (last.mean - first.mean);
}

/** Line through a part of a stroke; `null` if it has too few samples. */
function lineThrough(
  drive: Float64Array,
  from: number,
  to: number,
  first: number,
  last: number,
): Line | null {
  const start = Math.ceil(from + first * (to - from));
  const end = Math.floor(to - (1 - last) * (to - from));
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
  const mean = sum / count;
  return { slope, mean, intercept: mean - slope * centre };
}
