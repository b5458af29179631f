import { copyOf } from "../../memory/mod.ts";
import { orderOf } from "../../order/mod.ts";
import { checkpoint } from "../../progress/mod.ts";
import { type Capture, findChannel, type Samples } from "../../capture/mod.ts";
import { NotMeasurableError } from "../../errors/mod.ts";
import {
  benchOptions,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireCapture,
} from "../../options/mod.ts";

const work = "arrange the sweep";
/** Mask of the points between two checkpoints. */
const stride = 0x1ffff;

/** A slow sweep of the drive current, in order of rising current. */
export interface LightCurrentSweep {
  /** Drive current, in A, rising. */
  readonly current: Float64Array;
  /** Monitor current, in A; `null` without a monitor channel. */
  readonly monitor: Float64Array | null;
  /** Light power, in W; `null` without a power meter. */
  readonly power: Float64Array | null;
  /** Supply or diode voltage, in V; `null` without such a channel. */
  readonly voltage: Float64Array | null;
}

/** Options of {@linkcode sweepFromCapture}. */
export interface SweepFromCaptureOptions {
  /**
   * Gain of the monitor amplifier, in V/A, negative if it inverts. Not used
   * where the monitor channel is in A.
   *
   * @default {100e3}
   */
  transimpedance?: number | string;
  /**
   * Drive current per volt, in A/V, where the capture has a drive voltage only.
   *
   * @default {null}
   */
  currentPerVolt?: number | string | null;
  /**
   * Most points of the sweep: longer captures are averaged in bins of current.
   *
   * @default {400}
   */
  mostPoints?: number;
}

export const sweepSpec = {
  transimpedance: optional(
    optionOf.finite(
      "Transimpedance of the monitor's amplifier, in V/A.",
      "V/A",
      "1e5",
    ),
    100e3,
  ),
  currentPerVolt: optional(
    benchOptions.currentPerVoltage,
    null,
    "none, the drive channel is in A",
  ),
  mostPoints: optional(
    optionOf.whole("Points to which the sweep is thinned (1).", { least: 12 }),
    400,
  ),
} satisfies Record<keyof SweepFromCaptureOptions, Option>;

/**
 * Takes a light-current sweep out of a capture: a monitor channel, a drive
 * current (or a drive voltage and `currentPerVolt`), and any channel in W.
 *
 * @param capture The capture of the sweep, up, down or both.
 * @param options Gains.
 * @returns Points in order of rising current.
 * @throws {NotMeasurableError} If there is no current, or neither a monitor
 * channel nor a power channel.
 *
 * @example
 * ```ts
 * import { loadDataset } from "fringebook";
 * import { sweepFromCapture } from "fringebook/bench";
 * import { expect } from "vitest";
 *
 * const sweep = sweepFromCapture(await loadDataset("light-current-25c"));
 * expect(sweep.current.length).toBe(251);
 * expect(sweep.power).not.toBe(null);
 * ```
 */
export function sweepFromCapture(
  capture: Capture,
  options: SweepFromCaptureOptions = {},
): LightCurrentSweep {
  const task = "take a sweep";
  requireCapture(capture, task);
  const { transimpedance, currentPerVolt, mostPoints } = readOptions(
    sweepSpec,
    options,
    task,
  );
  const drive = findChannel(capture, "drive current");
  const driveVoltage = findChannel(capture, "drive voltage");
  const monitorChannel = findChannel(capture, "monitor signal");
  const powerChannel = capture.channels.find(({ unit }) => unit === "W");
  if (!(Number.isFinite(transimpedance) && transimpedance !== 0)) {
    throw new RangeError(
      `Cannot take a sweep as 'transimpedance' must be a number of V/A other than 0: current value is ${transimpedance}`,
    );
  }
  let current = drive === null ? null : copyOf(drive.samples, work);
  if (current === null && driveVoltage !== null && currentPerVolt !== null) {
    current = scaled(driveVoltage.samples, (value) => value * currentPerVolt);
  }
  if (current === null) {
    throw new NotMeasurableError(
      "no drive current",
      "Cannot check the diode as the capture has no drive current: record the voltage of a sense resistor and give 'currentPerVolt', or a channel in A",
    );
  }
  if (monitorChannel === null && powerChannel === undefined) {
    throw new NotMeasurableError(
      "no light signal",
      "Cannot check the diode as the capture has neither a monitor channel nor one in W: record the amplifier's output too",
    );
  }
  return arrange({
    current,
    monitor: monitorChannel === null ? null : scaled(
      monitorChannel.samples,
      (value) => monitorChannel.unit === "A" ? value : value / transimpedance,
    ),
    power: powerChannel === undefined
      ? null
      : copyOf(powerChannel.samples, work),
    voltage: driveVoltage === null ? null : copyOf(driveVoltage.samples, work),
  }, mostPoints);
}

function scaled(
  samples: Samples,
  scale: (value: number) => number,
): Float64Array {
  const out = new Float64Array(samples.length);
  for (let i = 0; i < out.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    out[i] = scale(samples[i]!);
  }
  return out;
}

/** Sorts by current, leaves out missing points, averages in bins if many. */
export function arrange(
  sweep: LightCurrentSweep,
  mostPoints = 400,
): LightCurrentSweep {
  const { current, monitor, power, voltage } = sweep;
  const order = risingOrder(current, [monitor, power, voltage]);
  if (order.length < 12) {
    throw new NotMeasurableError(
      "few points",
      `Cannot check the diode as the sweep has ${order.length} points: take at least 12, better 100, from 0 to the rated current`,
    );
  }
  const low = current[order[0]!]!;
  const high = current[order.at(-1)!]!;
  if (!(high - low > 1e-4 * Math.max(Math.abs(low), Math.abs(high)))) {
    throw new NotMeasurableError(
      "no sweep",
      `Cannot check the diode as the drive current stays at ${
        high * 1e3
      } mA: sweep it slowly from 0 to the rated current`,
    );
  }
  if (voltage === null && high <= 0) {
    throw new NotMeasurableError(
      "negative current",
      `Cannot check the diode as the drive current is never above 0: it lies from ${
        low * 1e3
      } to ${
        high * 1e3
      } mA. Swap the leads of the sense resistor, or give a negative 'currentPerVolt'`,
    );
  }
  const ends = order.length <= mostPoints
    ? Float64Array.from(order, (_, k) => k + 1)
    : binEnds(order, current, mostPoints);
  const averaged = (column: Float64Array | null) => {
    if (column === null) return null;
    let at = 0;
    return Float64Array.from(ends, (end) => {
      const from = at;
      let sum = 0;
      for (; at < end; at++) {
        if ((at & stride) === stride) checkpoint(NaN, work);
        sum += column[order[at]!]!;
      }
      return sum / (end - from);
    });
  };
  return {
    current: averaged(current)!,
    monitor: averaged(monitor),
    power: averaged(power),
    voltage: averaged(voltage),
  };
}

/** Places of the points that miss nothing, in order of rising current. */
function risingOrder(
  current: Float64Array,
  others: readonly (Float64Array | null)[],
): Uint32Array {
  const places = new Uint32Array(current.length);
  const values = new Float64Array(current.length);
  let count = 0;
  for (let i = 0; i < current.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    let whole = Number.isFinite(current[i]);
    for (const column of others) {
      if (column !== null && !Number.isFinite(column[i])) whole = false;
    }
    if (!whole) continue;
    places[count] = i;
    values[count++] = current[i]!;
  }
  const order = orderOf(values.subarray(0, count));
  for (let k = 0; k < count; k++) {
    if ((k & stride) === stride) checkpoint(NaN, work);
    order[k] = places[order[k]!]!;
  }
  return order;
}

/** Where each bin of current that holds points ends in the order. */
function binEnds(
  order: Uint32Array,
  current: Float64Array,
  count: number,
): number[] {
  const low = current[order[0]!]!;
  const high = current[order.at(-1)!]!;
  const width = (high - low) / count || 1;
  const ends: number[] = [];
  let last = 0;
  for (let at = 0; at < order.length; at++) {
    if ((at & stride) === stride) checkpoint(NaN, work);
    const bin = Math.min(
      count - 1,
      Math.floor((current[order[at]!]! - low) / width),
    );
    if (bin !== last && at > 0) ends.push(at);
    last = bin;
  }
  ends.push(order.length);
  return ends;
}
