import { checkpoint } from "../../progress/mod.ts";
import { type Quantity, quantity } from "../../result/mod.ts";

const work = "find the corner of the drive";

/**
 * What gets through a capacitor: first-order high-pass of samples that run
 * straight from one to the next.
 *
 * @param values The voltage before it.
 * @param corner Corner frequency over the sampling rate (1).
 * @param settling What the capacitor still has to settle at the first sample, in
 * the unit of the values.
 */
export function behindCapacitor(
  values: Float64Array,
  corner: number,
  settling: number,
): Float64Array {
  const out = new Float64Array(values.length);
  const rate = 2 * Math.PI * corner;
  const keep = Math.exp(-rate);
  const gain = (1 - keep) / rate;
  let state = settling;
  out[0] = state;
  for (let i = 1; i < values.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, work);
    state = keep * state + gain * (values[i]! - values[i - 1]!);
    out[i] = state;
  }
  return out;
}

/** A corner and how well the signal follows the drive behind it. */
export interface FoundCorner {
  readonly corner: Quantity;
  /** What the capacitor still has to settle at the first sample, in V. */
  readonly settling: number;
  /** Part of the signal's variance that follows (1). */
  readonly explained: number;
}

/** Most samples that the search looks at. */
const mostSamples = 20_000;

/**
 * Finds the corner of the capacitor in front of the diode: that at which the power
 * in the monitor signal follows the drive best, signal = a + b · (high-pass of the
 * drive) + c · e^(-2πf_c t). Its uncertainty is the scatter over parts of the
 * record. With a given corner only what has to settle is found.
 */
export function findCorner(
  signal: Float64Array,
  voltage: Float64Array,
  samplingRate: number,
  given: number | null,
): FoundCorner {
  const stride = Math.max(1, Math.floor(signal.length / mostSamples));
  const thin = (values: Float64Array) => {
    const count = Math.floor(values.length / stride);
    return Float64Array.from({ length: count }, (_, k) => {
      if (k % 512 === 0) checkpoint(NaN, work);
      let sum = 0;
      for (let i = k * stride; i < (k + 1) * stride; i++) sum += values[i]!;
      return sum / stride;
    });
  };
  const y = thin(signal);
  const v = thin(voltage);
  const rate = samplingRate / stride;
  const all = given === null
    ? bestCorner(y, v, rate)
    : { corner: given, ...follow(y, v, given / rate) };
  const parts = 4;
  const length = Math.floor(y.length / parts);
  const each = given !== null ? [] : Array.from({ length: parts }, (_, k) => {
    checkpoint(k / parts, work);
    return bestCorner(
      y.subarray(k * length, (k + 1) * length),
      v.subarray(k * length, (k + 1) * length),
      rate,
    ).corner;
  });
  const mean = each.reduce((sum, corner) => sum + corner, 0) / each.length;
  const squares = each.reduce((sum, corner) => sum + (corner - mean) ** 2, 0);
  return {
    corner: quantity(
      all.corner,
      each.length === 0 ? 0 : Math.sqrt(squares / (parts - 1) / parts),
      "Hz",
      { degreesOfFreedom: parts - 1 },
    ),
    settling: all.settling,
    explained: all.explained,
  };
}

function bestCorner(y: Float64Array, v: Float64Array, rate: number) {
  // From a tenth of a period of the part to a tenth of the sampling rate.
  const low = Math.log(0.03 * rate / y.length);
  const high = Math.log(0.1 * rate);
  const at = (log: number) => follow(y, v, Math.exp(log) / rate);
  const grid = 60;
  let [best, most] = [low, -Infinity];
  for (let k = 0; k <= grid; k++) {
    const log = low + (high - low) * k / grid;
    const { explained } = at(log);
    if (explained > most) [best, most] = [log, explained];
  }
  const step = (high - low) / grid;
  const golden = (Math.sqrt(5) - 1) / 2;
  let [left, right] = [best - step, best + step];
  while (right - left > 1e-5) {
    const inner = right - golden * (right - left);
    const outer = left + golden * (right - left);
    if (at(inner).explained > at(outer).explained) right = outer;
    else left = inner;
  }
  const log = (left + right) / 2;
  return { corner: Math.exp(log), ...at(log) };
}

/** How the signal follows the drive behind a corner: least squares of three. */
function follow(y: Float64Array, v: Float64Array, corner: number) {
  checkpoint(NaN, work);
  const n = y.length;
  const passed = behindCapacitor(v, corner, 0);
  const decay = new Float64Array(n);
  const keep = Math.exp(-2 * Math.PI * corner);
  decay[0] = 1;
  for (let i = 1; i < n; i++) decay[i] = keep * decay[i - 1]!;
  const columns = [passed, decay];
  const centred = [y, ...columns].map((column) => {
    const mean = column.reduce((sum, value) => sum + value, 0) / n;
    return column.map((value) => value - mean);
  });
  const dot = (a: Float64Array, b: Float64Array) => {
    let sum = 0;
    for (let i = 0; i < n; i++) sum += a[i]! * b[i]!;
    return sum;
  };
  const [own, p, d] = centred as [Float64Array, Float64Array, Float64Array];
  const [pp, pd, dd] = [dot(p, p), dot(p, d), dot(d, d)];
  const [py, dy, yy] = [dot(p, own), dot(d, own), dot(own, own)];
  const determinant = pp * dd - pd * pd;
  if (!(determinant > 1e-9 * pp * dd)) {
    const gain = py / pp;
    return { settling: 0, explained: yy > 0 ? gain * py / yy : 0 };
  }
  const gain = (py * dd - dy * pd) / determinant;
  const settled = (dy * pp - py * pd) / determinant;
  return {
    settling: gain === 0 ? 0 : settled / gain,
    explained: yy > 0 ? (gain * py + settled * dy) / yy : 0,
  };
}
