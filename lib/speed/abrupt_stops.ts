import { copyOf } from "../memory/mod.ts";
import { sortValues } from "../order/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import type { Standstill } from "./turning.ts";

const work = "look for stops";

/** Periods of the line over which its strength is taken. */
const periods = 4;
/** Strength at rest over that while it runs, at most: 6 dB and more of signal. */
const mostAtRest = 0.3;
/** Share of the record beside the rests in which it runs at full strength … */
const leastSteady = 0.99;
/** … which is above this part of the usual one: speckle fades far below it. */
const fullStrength = 0.6;
/** Lengths of an average that a rest takes, at least: a quick turn takes less. */
const leastRest = 3;
/** Lengths of an average within which a stop is over: at once takes 0.6. */
const mostEdge = 1.6;
/**
 * Change of the mean over the amplitude of the line: the signal rests somewhere on a
 * fringe. Beyond, and at the very mean as behind a coupling capacitor, the light may
 * be lost as well.
 */
const shift = { least: 0.12, most: 1.5 } as const;
/** Most averages that are ordered. */
const mostOrdered = 1 << 15;

/**
 * Finds where a line ends within a few of its periods at full strength, and where it
 * comes back likewise: a surface that stops and starts at once. A frame of a track
 * is far longer than that and shows at most a gap. Only where the line is as strong
 * everywhere else, so that no fading speckle is taken for a rest, and where the mean
 * stays, so that no lost light is.
 *
 * The strength is the mean of (x(t) − x(t − T/4))² over four periods T; where the
 * speed changes, the largest for the shortest, a middle and the longest T.
 *
 * @param samples The signal.
 * @param samplingRate Samples per second, in Hz.
 * @param time Time of the frames, in s.
 * @param frequency Frequency of the line, in Hz; `NaN` where it is not seen.
 */
export function findAbruptStops(
  samples: Float64Array,
  samplingRate: number,
  time: Float64Array,
  frequency: Float64Array,
): Standstill[] {
  const seen = sortValues(frequency.filter(Number.isFinite));
  const slow = seen[Math.floor(0.2 * seen.length)] ?? NaN;
  const fast = seen[Math.floor(0.8 * seen.length)] ?? NaN;
  const width = Math.max(16, Math.ceil(periods * samplingRate / slow));
  const lags = [fast, Math.sqrt(fast * slow), slow]
    .map((each) => Math.max(1, Math.round(samplingRate / (4 * each))));
  const lag = lags[2]!;
  const count = samples.length - lag - width;
  if (!(count > 8 * width)) return [];
  const strength = strengthOf(samples, lags, width);
  const usual = usualOf(strength);
  const gaps = gapsOf(strength, mostAtRest * usual)
    .filter(({ from, to }) => to - from >= (leastRest - 1) * width);
  if (gaps.length === 0 || !isSteady(strength, gaps, width, usual)) return [];
  // A quarter of a period changes a sine of amplitude A by A² in the mean square.
  const amplitude = Math.sqrt(usual);
  const running = meanOutside(samples, gaps, lag + width);
  const found: Standstill[] = [];
  for (const { from, to } of gaps) {
    const level = meanOf(strength, from, to);
    const stop = from === 0 ? 0 : edgeOf(strength, from, -1, level, width);
    const start = to === count ? count : edgeOf(strength, to, 1, level, width);
    if (Number.isNaN(stop) || Number.isNaN(start)) continue;
    const inside = meanOf(samples, from + (width >> 1), to + (width >> 1));
    const off = Math.abs(inside - running) / amplitude;
    if (off < shift.least || off > shift.most) continue;
    // An average stands for its middle, and the lag for its own.
    const at = (place: number) => (place + (width + lag) / 2) / samplingRate;
    const end = to === count ? samples.length / samplingRate : at(start);
    const begin = from === 0 ? 0 : at(stop);
    const after = time.findIndex((one) => one > end);
    found.push({
      from: begin,
      to: end,
      standardUncertainty: 0.5 / slow,
      frame: after < 0 ? time.length : after,
    });
  }
  return found;
}

/**
 * Mean squared change over the lags, the largest of them, by the first sample of
 * each average over the longest. A line of any frequency among theirs has its own.
 */
function strengthOf(
  samples: Float64Array,
  lags: readonly number[],
  width: number,
): Float64Array {
  const longest = lags.at(-1)!;
  const strength = new Float64Array(samples.length - longest - width);
  for (const lag of new Set(lags)) {
    const offset = (longest - lag) >> 1;
    const square = (i: number) => (samples[i + lag]! - samples[i]!) ** 2;
    let sum = 0;
    for (let i = 0; i < width; i++) sum += square(offset + i);
    for (let i = 0; i < strength.length; i++) {
      if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, work);
      if (sum > width * strength[i]!) strength[i] = sum / width;
      sum += square(offset + i + width) - square(offset + i);
    }
  }
  return strength;
}

/** The strength above which two fifths of the record lie. */
function usualOf(strength: Float64Array): number {
  const stride = Math.ceil(strength.length / mostOrdered);
  const few = stride === 1 ? copyOf(strength, work) : Float64Array.from(
    { length: Math.floor(strength.length / stride) },
    (_, k) => strength[k * stride]!,
  );
  return sortValues(few)[Math.floor(0.6 * few.length)]!;
}

interface Gap {
  readonly from: number;
  /** The one after the last. */
  readonly to: number;
}

function gapsOf(strength: Float64Array, limit: number): Gap[] {
  const gaps: Gap[] = [];
  for (let i = 0; i < strength.length; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, work);
    if (!(strength[i]! < limit)) continue;
    const from = i;
    while (i < strength.length && strength[i]! < limit) i++;
    gaps.push({ from, to: i });
  }
  return gaps;
}

/** Whether the line is at full strength wherever it does not rest. */
function isSteady(
  strength: Float64Array,
  gaps: readonly Gap[],
  width: number,
  usual: number,
): boolean {
  let [full, all, next] = [0, 0, 0];
  for (let i = 0; i < strength.length; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, work);
    while (next < gaps.length && i >= gaps[next]!.to + width) next++;
    if (next < gaps.length && i >= gaps[next]!.from - width) continue;
    all++;
    if (strength[i]! > fullStrength * usual) full++;
  }
  return all > 4 * width && full > leastSteady * all;
}

/**
 * Where the strength is half way from that of the rest to that beside it; `NaN`
 * where it takes longer than a stop at once does.
 */
function edgeOf(
  strength: Float64Array,
  edge: number,
  way: 1 | -1,
  atRest: number,
  width: number,
): number {
  const near = edge + way * width;
  const far = edge + way * 3 * width;
  const beside = meanOf(
    strength,
    Math.max(0, Math.min(near, far)),
    Math.min(strength.length, Math.max(near, far)),
  );
  const crossing = (part: number) => {
    const level = atRest + part * (beside - atRest);
    let i = edge;
    while (i >= 0 && i < strength.length && strength[i]! < level) i += way;
    return i;
  };
  const inside = (part: number) => {
    const level = atRest + part * (beside - atRest);
    let i = edge;
    while (i >= 0 && i < strength.length && strength[i]! > level) i -= way;
    return i;
  };
  const long = Math.abs(crossing(0.8) - inside(0.2));
  return long < mostEdge * width ? crossing(0.5) : NaN;
}

function meanOf(values: Float64Array, from: number, to: number): number {
  let sum = 0;
  for (let i = from; i < to; i++) sum += values[i]!;
  return sum / (to - from);
}

function meanOutside(
  samples: Float64Array,
  gaps: readonly Gap[],
  reach: number,
): number {
  let [sum, count, next] = [0, 0, 0];
  for (let i = 0; i < samples.length; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, work);
    while (next < gaps.length && i >= gaps[next]!.to + reach) next++;
    if (next < gaps.length && i >= gaps[next]!.from) continue;
    sum += samples[i]!;
    count++;
  }
  return sum / count;
}
