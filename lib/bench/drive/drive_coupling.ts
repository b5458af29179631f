import { checkpoint } from "../../progress/mod.ts";
import { realFourierTransform } from "../../signal/mod.ts";
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
  /** Whether it had been on for less than it takes to settle. */
  readonly switchedOn: boolean;
}

/** Most samples that the search looks at. */
const mostSamples = 20_000;
/** Deviations from which on a further column of the fit is there (1). */
const clear = 5;

/** What may be in the signal beside a level and what gets through. */
interface Extras {
  /** e^(-2πf_c t): the drive was switched on a moment ago. */
  readonly decay: boolean;
  /** Sign of the current's slope: fringes that jump stand higher on one way. */
  readonly way: boolean;
}

/** Signal and drive, in samples that the search looks at. */
interface Pair {
  readonly y: Float64Array;
  readonly v: Float64Array;
  /** Samples of the whole periods in it; 0 for none. */
  readonly periods: number;
}

/**
 * Finds the corner of the capacitor in front of the diode: that at which the power
 * in the monitor signal follows the drive best, signal = a + b · (high-pass of the
 * drive) + c · (sign of the current's slope), as fringes that jump stand higher on
 * one way than on the other. The drive is taken to have run for long before, unless
 * d · e^(-2πf_c t) stands out.
 *
 * What is left are mostly the fringes, which are the same on every ramp: a scatter
 * over parts of the record would not show what they do to the corner. The
 * uncertainty is that of the corner if what is left had the power that it has at
 * each frequency and a phase by chance. With a given corner only the start is found.
 *
 * @param period Period of the drive, in samples; `NaN` for none.
 *
 * Source: phases by chance: Theiler et al. 1992 (from memory).
 */
export function findCorner(
  signal: Float64Array,
  voltage: Float64Array,
  samplingRate: number,
  given: number | null,
  period: number,
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
  const [y, v] = [thin(signal), thin(voltage)];
  const rate = samplingRate / stride;
  const each = period / stride;
  const whole = Math.floor((y.length - 1) / each);
  const record = { y, v, periods: whole > 0 ? Math.round(whole * each) : 0 };
  const fitted = (extras: Extras) => {
    const corner = given === null ? bestCorner(record, extras) : given / rate;
    return { corner, extras, ...covariance(record, corner, extras, given) };
  };
  // Fringes that jump stand higher on one way of the current than on the other.
  let best = fitted({ decay: whole < 1, way: true });
  if (whole > 0) {
    const more = fitted({ decay: true, way: true });
    const { value, deviation } = more.extra.decay!;
    if (Math.abs(value) > clear * deviation) best = more;
  }
  const { corner, relative, degreesOfFreedom, explained } = best;
  const found = corner * rate;
  return {
    corner: quantity(found, found * relative, "Hz", { degreesOfFreedom }),
    settling: startOf(record, corner) + (best.extra.decay?.value ?? 0),
    explained,
    switchedOn: best.extras.decay && whole > 0,
  };
}

/**
 * What the capacitor holds at the first sample of a drive that has run for long: as
 * much as after whole periods; 0 without any.
 */
function startOf({ v, periods }: Pair, corner: number): number {
  if (periods === 0) return 0;
  const after = behindCapacitor(
    v.subarray(0, periods + 1),
    corner,
    0,
  )[periods]!;
  const kept = Math.exp(-2 * Math.PI * corner * periods);
  return (after + v[0]! - v[periods]!) / (1 - kept);
}

/** What gets through the capacitor, and the columns beside it. */
function columnsOf(record: Pair, corner: number, extras: Extras) {
  const { v } = record;
  const n = v.length;
  const passed = behindCapacitor(v, corner, startOf(record, corner));
  const columns: { -readonly [name in keyof Extras]?: Float64Array } = {};
  if (extras.decay) {
    const keep = Math.exp(-2 * Math.PI * corner);
    const decay = new Float64Array(n).fill(1);
    for (let i = 1; i < n; i++) decay[i] = keep * decay[i - 1]!;
    columns.decay = decay;
  }
  if (extras.way) {
    const way = passed.map((value, i) =>
      i === 0 ? 0 : Math.sign(value - passed[i - 1]!)
    );
    way[0] = way[1]!;
    columns.way = way;
  }
  return { passed, columns };
}

/** How the signal follows the drive behind a corner. */
function follow(record: Pair, corner: number, extras: Extras) {
  checkpoint(NaN, work);
  const { passed, columns } = columnsOf(record, corner, extras);
  const names = Object.keys(columns) as (keyof Extras)[];
  const basis = orthogonal([
    new Float64Array(passed.length).fill(1),
    passed,
    ...names.map((name) => columns[name]!),
  ]);
  return { basis, names, ...projected(basis, record.y) };
}

function bestCorner(record: Pair, extras: Extras): number {
  // From a tenth of a period of the record to a tenth of the sampling rate.
  const low = Math.log(0.03 / record.y.length);
  const high = Math.log(0.1);
  const at = (log: number) => follow(record, Math.exp(log), extras).size;
  const grid = 30;
  let [best, least] = [low, Infinity];
  for (let k = 0; k <= grid; k++) {
    checkpoint(k / grid, work);
    const log = low + (high - low) * k / grid;
    const size = at(log);
    if (size < least) [best, least] = [log, size];
  }
  const step = (high - low) / grid;
  const golden = (Math.sqrt(5) - 1) / 2;
  let [left, right] = [best - step, best + step];
  while (right - left > 1e-4) {
    const inner = right - golden * (right - left);
    const outer = left + golden * (right - left);
    if (at(inner) < at(outer)) right = outer;
    else left = inner;
  }
  return Math.exp((left + right) / 2);
}

/**
 * How sure corner and further columns are: a column D, less what the others make up
 * for, takes Σ D r/Σ D² of what is left, r; over phases by chance the variance of
 * Σ D r is (2/n²) Σ |D_k|²|R_k|².
 */
function covariance(
  record: Pair,
  corner: number,
  extras: Extras,
  given: number | null,
) {
  const { y } = record;
  const n = y.length;
  const { basis, names, rest, coefficients, size } = follow(
    record,
    corner,
    extras,
  );
  const gain = coefficients[1]!;
  const step = 0.01;
  const [above, below] = [1 + step, 1 - step].map((factor) =>
    columnsOf(record, corner * factor, extras).passed
  );
  const change = projected(
    basis,
    above!.map((value, i) => gain * (value - below![i]!) / (2 * step)),
  ).rest;
  const spectrum = powers(rest);
  const chance = (column: Float64Array) => {
    const own = powers(column);
    let [sum, squares, length] = [0, 0, 0];
    for (let k = 1; k < own.length; k++) {
      const power = own[k]! * spectrum[k]!;
      sum += power;
      squares += power * power;
    }
    for (const value of column) length += value * value;
    return {
      deviation: Math.sqrt(2 * sum) / n / length,
      // Lines that count, of two parts each.
      degreesOfFreedom: squares > 0 ? sum * sum / squares : Infinity,
    };
  };
  const sure = given === null ? chance(change) : null;
  const extra: { -readonly [name in keyof Extras]?: Estimate } = {};
  names.forEach((name, k) => {
    const others = [
      ...basis.columns.filter((_, j) => j !== k + 2),
      ...(given === null ? [change] : []),
    ];
    const own = projected(orthogonal(others), basis.columns[k + 2]!).rest;
    const value = coefficients[k + 2]!;
    extra[name] = {
      value: name === "decay" ? value / gain : value,
      deviation: chance(own).deviation *
        (name === "decay" ? 1 / Math.abs(gain) : 1),
    };
  });
  const mean = y.reduce((sum, value) => sum + value, 0) / n;
  const whole = y.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return {
    relative: sure?.deviation ?? 0,
    degreesOfFreedom: sure?.degreesOfFreedom ?? Infinity,
    explained: whole > 0 ? 1 - size / whole : 0,
    extra,
  };
}

interface Estimate {
  readonly value: number;
  readonly deviation: number;
}

/** |X_k|² of a real sequence. */
function powers(values: Float64Array): Float64Array {
  const { real, imaginary } = realFourierTransform(values);
  return real.map((value, k) => value ** 2 + imaginary[k]! ** 2);
}

/** Columns, and the mixes of them that are orthogonal; `null` for one that is none. */
interface Basis {
  readonly columns: readonly Float64Array[];
  readonly bases: readonly (Float64Array | null)[];
  /** Rows of the upper triangle: what of each base is in each column. */
  readonly parts: readonly (readonly number[])[];
}

/** Modified Gram–Schmidt (Golub & Van Loan, Matrix Computations, 5.2). */
function orthogonal(columns: readonly Float64Array[]): Basis {
  const bases: (Float64Array | null)[] = [];
  const parts: number[][] = [];
  for (const column of columns) {
    const base = column.slice();
    const own: number[] = [];
    for (const other of bases) {
      const part = other === null ? 0 : dot(base, other) / dot(other, other);
      if (other !== null) subtract(base, part, other);
      own.push(part);
    }
    parts.push(own);
    bases.push(dot(base, base) > 1e-9 * dot(column, column) ? base : null);
  }
  return { columns, bases, parts };
}

/** Least squares: coefficients of the columns, what is left, its square. */
function projected({ bases, parts }: Basis, y: Float64Array) {
  const rest = y.slice();
  const coefficients = bases.map((base) => {
    if (base === null) return 0;
    const part = dot(rest, base) / dot(base, base);
    subtract(rest, part, base);
    return part;
  });
  for (let k = coefficients.length - 1; k >= 0; k--) {
    for (let j = 0; j < k; j++) {
      coefficients[j]! -= coefficients[k]! * parts[k]![j]!;
    }
  }
  return { coefficients, rest, size: dot(rest, rest) };
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
}

function subtract(from: Float64Array, part: number, other: Float64Array) {
  for (let i = 0; i < from.length; i++) from[i]! -= part * other[i]!;
}
