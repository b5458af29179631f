import { extremesOf } from "../../order/mod.ts";
import { type Capture, requireChannel } from "../../capture/mod.ts";
import { monotoneCubic } from "../../fit/mod.ts";
import { isCaptureLike, requireRecords } from "../../options/mod.ts";

/** One point of the current of a diode against its voltage. */
export interface CurrentAtVoltage {
  /** Voltage, in V. */
  readonly voltage: number;
  /** Current, in A. */
  readonly current: number;
  /**
   * Standard uncertainty of this current by itself, in A. Where no point has one,
   * it is taken from how far the points are off the law of a diode.
   */
  readonly standardUncertainty?: number;
}

/** A curve of current against voltage. */
export interface DrawnCurrent {
  /** The points, in order of voltage. */
  readonly points: readonly CurrentAtVoltage[];
  /** Current at a voltage, in A. */
  readonly at: (voltage: number) => number;
  /** Lowest voltage, in V. */
  readonly low: number;
  /** Highest voltage, in V. */
  readonly high: number;
}

/** Most points of a curve that comes from a capture. */
const mostPoints = 60;

/** Draws the curve through points or through a sweep, averaged by voltage. */
export function currentCurve(
  curve: readonly CurrentAtVoltage[] | Capture,
  task: string,
): DrawnCurrent {
  const points = isCaptureLike(curve)
    ? pointsOf(curve as Capture)
    : listed(curve as readonly CurrentAtVoltage[], task);
  const merged = points.filter(({ voltage }, k) =>
    k === 0 || voltage > points[k - 1]!.voltage
  );
  if (merged.length < 5) {
    throw new RangeError(
      `Cannot ${task} by a curve of ${merged.length} points: give at least 5 voltages with their currents`,
    );
  }
  const falls = merged.findIndex(({ current }, k) =>
    k > 0 && current <= merged[k - 1]!.current
  );
  if (falls > 0 && !isCaptureLike(curve)) {
    throw new RangeError(
      `Cannot ${task} as the current does not rise from ${
        merged[falls - 1]!.voltage
      } to ${merged[falls]!.voltage} V: look at these points`,
    );
  }
  const drawn = monotoneCubic(
    merged.map(({ voltage }) => voltage),
    merged.map(({ current }) => current),
  );
  return {
    points: merged,
    at: drawn.at,
    low: merged[0]!.voltage,
    high: merged.at(-1)!.voltage,
  };
}

function listed(
  curve: readonly CurrentAtVoltage[],
  task: string,
): CurrentAtVoltage[] {
  requireRecords(curve, "curve", ["voltage", "current"], task);
  const wrong = curve.find(({ voltage, current, standardUncertainty = 0 }) =>
    !Number.isFinite(voltage) || !Number.isFinite(current) ||
    !(standardUncertainty >= 0 && Number.isFinite(standardUncertainty))
  );
  if (wrong !== undefined) {
    throw new RangeError(
      `Cannot ${task} as the curve has a point of ${wrong.voltage} V and ${wrong.current} A${
        wrong.standardUncertainty === undefined
          ? ""
          : ` with a standard uncertainty of ${wrong.standardUncertainty} A`
      }`,
    );
  }
  const stated = curve.filter((each) => each.standardUncertainty !== undefined);
  if (stated.length > 0 && stated.length < curve.length) {
    throw new RangeError(
      `Cannot ${task} as ${stated.length} of the ${curve.length} points of the curve have a 'standardUncertainty': give it for all of them, or for none`,
    );
  }
  return [...curve].sort((a, b) => a.voltage - b.voltage);
}

/**
 * Means over even parts of the voltage, each with the standard deviation of its
 * mean: the scatter about a line through the part.
 */
function pointsOf(capture: Capture): CurrentAtVoltage[] {
  const voltage = requireChannel(capture, "drive voltage").samples;
  const current = requireChannel(capture, "drive current").samples;
  const [low, high] = extremesOf(voltage);
  const sums = Array.from(
    { length: mostPoints },
    () => ({ count: 0, v: 0, c: 0, vv: 0, vc: 0, cc: 0 }),
  );
  // From here, so that the squares keep their digits.
  const [v0, c0] = [voltage[0]!, current[0]!];
  for (let i = 0; i < voltage.length; i++) {
    const [v, c] = [voltage[i]! - v0, current[i]! - c0];
    if (v - v !== 0 || c - c !== 0) continue;
    const part = Math.min(
      mostPoints - 1,
      Math.floor(mostPoints * (v + v0 - low) / (high - low || 1)),
    );
    const sum = sums[part]!;
    sum.count++;
    sum.v += v;
    sum.c += c;
    sum.vv += v * v;
    sum.vc += v * c;
    sum.cc += c * c;
  }
  const parts = sums.filter(({ count }) => count > 0).map((sum) => {
    const { count, v, c } = sum;
    const [vv, vc, cc] = [
      sum.vv - v * v / count,
      sum.vc - v * c / count,
      sum.cc - c * c / count,
    ];
    const left = Math.max(0, cc - (vv > 0 ? vc * vc / vv : 0));
    return { count, voltage: v0 + v / count, current: c0 + c / count, left };
  });
  // One scatter for all: few samples of a part do not tell their own.
  const free = parts.reduce((n, { count }) => n + Math.max(0, count - 2), 0);
  const scatter = parts.reduce(
    (sum, { count, left }) => count > 2 ? sum + left : sum,
    0,
  );
  return parts.map(({ count, voltage, current }) => ({
    voltage,
    current,
    ...(free > 0 && {
      standardUncertainty: Math.sqrt(scatter / free / count),
    }),
  }));
}
