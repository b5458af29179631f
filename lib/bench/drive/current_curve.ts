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
  const wrong = curve.find(({ voltage, current }) =>
    !Number.isFinite(voltage) || !Number.isFinite(current)
  );
  if (wrong !== undefined) {
    throw new RangeError(
      `Cannot ${task} as the curve has a point of ${wrong.voltage} V and ${wrong.current} A`,
    );
  }
  return [...curve].sort((a, b) => a.voltage - b.voltage);
}

/** Means over even parts of the voltage. */
function pointsOf(capture: Capture): CurrentAtVoltage[] {
  const voltage = requireChannel(capture, "drive voltage").samples;
  const current = requireChannel(capture, "drive current").samples;
  const [low, high] = extremesOf(voltage);
  const sums = Array.from(
    { length: mostPoints },
    () => ({ voltage: 0, current: 0, count: 0 }),
  );
  for (let i = 0; i < voltage.length; i++) {
    const [v, c] = [voltage[i]!, current[i]!];
    if (v - v !== 0 || c - c !== 0) continue;
    const part = Math.min(
      mostPoints - 1,
      Math.floor(mostPoints * (v - low) / (high - low || 1)),
    );
    const sum = sums[part]!;
    sum.voltage += v;
    sum.current += c;
    sum.count++;
  }
  return sums.filter(({ count }) => count > 0).map((sum) => ({
    voltage: sum.voltage / sum.count,
    current: sum.current / sum.count,
  }));
}
