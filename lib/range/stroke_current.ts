import { extremesOf } from "../order/mod.ts";
import { copyOf } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  difference,
  evenly,
  legendreColumns,
  solveColumns,
} from "./normal_equations.ts";
import { type DriveLine, straightLine } from "./straight_drive.ts";

const work = "find ramps";
/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

/** Lengths of a stroke whose polynomials are kept. */
const keptLengths = 4;

/** Polynomials of time along strokes, made once for each length. */
export function createColumns(): (
  count: number,
  order: number,
) => Float64Array[] {
  const made = new Map<string, Float64Array[]>();
  return (count, order) => {
    const key = `${count} ${order}`;
    const columns = made.get(key) ?? legendreColumns(evenly(count), order);
    if (made.size >= keptLengths) made.clear();
    made.set(key, columns);
    return columns;
  };
}

/**
 * Current along a stroke as a polynomial of time, of the lowest order that
 * leaves no more than the channel's own noise; of a drive that bends, the lowest
 * beyond which the next no longer explains more than it costs (Schwarz 1978): what
 * hides below the noise of each sample still shifts the ends of a sine.
 */
export function smoothCurrent(
  drive: Float64Array,
  start: number,
  end: number,
  from: number,
  to: number,
  columnsOf: ReturnType<typeof createColumns>,
) {
  const count = end - start;
  const y = drive.subarray(start, end);
  const line = straightLine(y);
  const span = Math.abs(y[count - 1]! - y[0]!);
  const limit = Math.max(1.3 * line.noise, 1e-7 * span);
  let { current, coefficients, residualSum }: DriveLine = line;
  let order = 1;
  const inNoise = () => Math.sqrt(residualSum / count) <= limit;
  while (order < 9 && count > 4 * order && !(order === 1 && inNoise())) {
    checkpoint();
    const fit = solveColumns(columnsOf(count, order + 2), y)!;
    const gain = count * Math.log(residualSum / fit.residualSum);
    if (inNoise() && !(gain > 2 * Math.log(count))) break;
    order += 2;
    ({ coefficients, residualSum } = fit);
    current = difference(y, fit.residuals);
  }
  // The ends of the ramp, where the fitted course reaches the turning points.
  const at = (sample: number) => {
    const x = Float64Array.of(2 * (sample - start) / (count - 1) - 1);
    return legendreColumns(x, order).reduce(
      (sum, column, k) => sum + column[0]! * coefficients[k]!,
      0,
    );
  };
  const [a, b] = [at(from), at(to)];
  return {
    current,
    curvature: line.largest / (span || 1),
    edges: { low: Math.min(a, b), high: Math.max(a, b) },
    relativeUncertainty: line.noise / Math.sqrt(squaresOf(current)),
  };
}

/**
 * Sum of squares about the mean, in A²: noise of σ on each sample changes what is
 * counted against this current by the part σ/√Σ(I − Ī)² (least squares).
 */
function squaresOf(current: Float64Array): number {
  const count = current.length;
  let [sum, squares] = [0, 0];
  const origin = current[0]!;
  for (let i = 0; i < count; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    const value = current[i]! - origin;
    sum += value;
    squares += value * value;
  }
  return squares - sum * sum / count;
}

/** Current along a stroke of a drive that has no noise. */
export function asItIs(drive: Float64Array, start: number, end: number) {
  const current = copyOf(drive, work, start, end);
  const [low, high] = extremesOf(current);
  return { current, curvature: 0, edges: { low, high } };
}
