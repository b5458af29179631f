import { localFit, median } from "./local_fit.ts";
import { stepOf } from "./threshold.ts";

/** A range of current. */
export interface CurrentBand {
  /** Lowest current, in A. */
  readonly low: number;
  /** Highest current, in A. */
  readonly high: number;
}

/** A range of current to keep away from. */
export interface Kink extends CurrentBand {
  /** Greatest change of the slope there, relative to the slope around (1). */
  readonly slopeChange: number;
}

/**
 * Ranges above threshold in which the local slope differs from the usual one by
 * more than `tolerance`, and by more than noise explains.
 */
export function findKinks(
  x: Float64Array,
  y: Float64Array,
  range: CurrentBand,
  usualSlope: number,
  tolerance: number,
): Kink[] {
  const halfWidth = kinkWidth(x);
  const places = Array.from(x).filter((at) =>
    at >= range.low + halfWidth / 2 && at <= range.high - halfWidth / 2
  );
  const fits = places.map((at) => localFit(x, y, at, halfWidth));
  // The noise of the usual place: a kink must not hide behind its own misfit.
  const noise = Math.sqrt(median(fits.map(({ variance }) => variance)));
  const kinks: Kink[] = [];
  let open: { low: number; high: number; slopeChange: number } | null = null;
  for (const [k, at] of places.entries()) {
    const { slope, slopeSpread } = fits[k]!;
    const change = slope / usualSlope - 1;
    const found = Math.abs(change) > tolerance &&
      Math.abs(change * usualSlope) > 5 * slopeSpread * noise;
    if (!found) continue;
    if (open !== null && at - open.high <= 2 * halfWidth) {
      open.high = at;
      if (Math.abs(change) > Math.abs(open.slopeChange)) {
        open.slopeChange = change;
      }
    } else {
      if (open !== null) kinks.push(open);
      open = { low: at, high: at, slopeChange: change };
    }
  }
  if (open !== null) kinks.push(open);
  return kinks.map(({ low, high, slopeChange }) => ({
    low: low - halfWidth / 2,
    high: high + halfWidth / 2,
    slopeChange,
  }));
}

/** Half width of the parabolas for the slope, in A. */
export function kinkWidth(x: Float64Array): number {
  return Math.max(4 * stepOf(x), (x.at(-1)! - x[0]!) / 60);
}

/** What is left of a range between excluded bands. */
export function freeSpans(
  range: CurrentBand,
  excluded: readonly CurrentBand[],
): CurrentBand[] {
  const spans: CurrentBand[] = [];
  let low = range.low;
  for (const band of [...excluded].sort((a, b) => a.low - b.low)) {
    if (band.low > low) {
      spans.push({ low, high: Math.min(band.low, range.high) });
    }
    low = Math.max(low, band.high);
    if (low >= range.high) break;
  }
  if (low < range.high) spans.push({ low, high: range.high });
  return spans;
}
