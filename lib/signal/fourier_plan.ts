import FFT from "fft.js";
import { largePages } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";

/** Above this size the transform is split in two dimensions (memory, cache). */
const splitAbove = 1 << 15;
const plans = new Map<number, FFT>();
const task = "Fourier transform";

/**
 * The fft.js plan of a power-of-two size, with its tables in typed arrays.
 *
 * @param size Power of two, at least 2.
 * @returns The plan; kept for later calls.
 */
export function smallPlan(size: number): FFT {
  // Long loops are compiled before their ends were seen, and left again at each
  // transform: short ones show all of the code first.
  if (plans.size === 0) {
    for (const few of [8, 16]) {
      makePlan(few).transform(
        new Float64Array(2 * few),
        new Float64Array(2 * few),
      );
    }
  }
  return plans.get(size) ?? makePlan(size);
}

function makePlan(size: number): FFT {
  const plan = new FFT(size);
  const tables = plan as unknown as {
    table: ArrayLike<number>;
    _bitrev: ArrayLike<number>;
  };
  tables.table = Float64Array.from(tables.table);
  tables._bitrev = Int32Array.from(tables._bitrev);
  plans.set(size, plan);
  return plan;
}

/**
 * exp(−2πi m / size) for m = 0 … size − 1 from two short tables.
 *
 * @param size Number of points on the circle.
 * @returns Interleaved tables: `fine` for m mod `step`, `coarse` for m / step.
 */
export function unitRoots(size: number): {
  step: number;
  shift: number;
  fine: Float64Array;
  coarse: Float64Array;
} {
  const shift = Math.max(0, Math.ceil(Math.log2(size) / 2));
  const step = 2 ** shift;
  const fine = new Float64Array(2 * step);
  const coarse = new Float64Array(2 * (Math.ceil(size / step) + 1));
  for (let m = 0; m < step; m++) {
    const angle = -2 * Math.PI * m / size;
    fine[2 * m] = Math.cos(angle);
    fine[2 * m + 1] = Math.sin(angle);
  }
  for (let m = 0; 2 * m < coarse.length; m++) {
    const angle = -2 * Math.PI * m * step / size;
    coarse[2 * m] = Math.cos(angle);
    coarse[2 * m + 1] = Math.sin(angle);
  }
  return { step, shift, fine, coarse };
}

/**
 * Discrete Fourier transform X[k] = Σ x[n] exp(−2πi nk/N) of interleaved
 * complex numbers, of any length: fft.js for powers of two (split in rows and
 * columns when long: Bailey 1990, J. Supercomput. 4, 23), Bluestein's chirp
 * for the rest (Bluestein 1970, IEEE Trans. Audio Electroacoust. 18, 451).
 *
 * @param data 2 N numbers: real, imaginary, real, … May be overwritten.
 * @returns 2 N numbers in the same order.
 */
export function transformComplex(data: Float64Array): Float64Array {
  const size = data.length / 2;
  if (size === 1) return data.slice();
  if ((size & (size - 1)) !== 0) return transformByChirp(data);
  if (size > splitAbove) return transformSplit(data);
  const out = new Float64Array(data.length);
  smallPlan(size).transform(out, data);
  return out;
}

/** Swaps real and imaginary parts in place; turns a transform into its inverse. */
export function swapParts(data: Float64Array): void {
  for (let i = 0; i < data.length; i += 2) {
    if ((i & 0x1ffff) === 0x1fffe) checkpoint(NaN, task);
    const real = data[i]!;
    data[i] = data[i + 1]!;
    data[i + 1] = real;
  }
}

const batch = 8;
/** Above this size eight columns take longer than an interrupt may wait. */
const longColumns = 1 << 22;
/** Rows, and columns, whose pages are touched between two checkpoints. */
const rowBlock = 1 << 8;
const columnBlock = 1 << 7;

/** N = rows × columns; overwrites `data`. */
function transformSplit(data: Float64Array): Float64Array {
  const size = data.length / 2;
  const rows = 2 ** Math.ceil(Math.log2(size) / 2);
  const columns = size / rows;
  const { shift, step, fine, coarse } = unitRoots(size);
  const bufferIn = new Float64Array(2 * rows);
  const bufferOut = new Float64Array(2 * rows * batch);
  const columnPlan = smallPlan(rows);
  const column = bufferOut.subarray(0, 2 * rows);
  for (let first = 0; first < columns; first += batch) {
    checkpoint(first / columns / 2, task);
    for (let b = 0; b < batch; b++) {
      if (size > longColumns) checkpoint(first / columns / 2, task);
      const n2 = first + b;
      // The first touch of a page takes its time, and each row has its own.
      for (let from = 0; from < rows; from += rowBlock) {
        if (rows > rowBlock) checkpoint(first / columns / 2, task);
        const to = Math.min(rows, from + rowBlock);
        let at = 2 * (n2 + columns * from);
        for (let n1 = from; n1 < to; n1++, at += 2 * columns) {
          bufferIn[2 * n1] = data[at]!;
          bufferIn[2 * n1 + 1] = data[at + 1]!;
        }
      }
      columnPlan.transform(column, bufferIn);
      for (let k1 = 0, at = 2 * n2; k1 < rows; k1++, at += 2 * columns) {
        const m = n2 * k1;
        const f = 2 * (m & (step - 1));
        const c = 2 * (m >>> shift);
        const fr = fine[f]!, fi = fine[f + 1]!;
        const cr = coarse[c]!, ci = coarse[c + 1]!;
        const wr = fr * cr - fi * ci, wi = fr * ci + fi * cr;
        const xr = column[2 * k1]!, xi = column[2 * k1 + 1]!;
        data[at] = xr * wr - xi * wi;
        data[at + 1] = xr * wi + xi * wr;
      }
    }
  }
  const out = largePages(new Float64Array(data.length));
  const rowPlan = smallPlan(columns);
  const results = Array.from(
    { length: batch },
    () => new Float64Array(2 * columns),
  );
  for (let first = 0; first < rows; first += batch) {
    checkpoint(0.5 + first / rows / 2, task);
    for (let b = 0; b < batch; b++) {
      const from = 2 * columns * (first + b);
      rowPlan.transform(
        results[b]!,
        data.subarray(from, from + 2 * columns),
      );
    }
    for (let from = 0; from < columns; from += columnBlock) {
      if (columns > columnBlock) checkpoint(0.5 + first / rows / 2, task);
      const to = Math.min(columns, from + columnBlock);
      for (let k2 = from; k2 < to; k2++) {
        let at = 2 * (first + rows * k2);
        for (let b = 0; b < batch; b++) {
          const result = results[b]!;
          out[at++] = result[2 * k2]!;
          out[at++] = result[2 * k2 + 1]!;
        }
      }
    }
  }
  return out;
}

/** Bluestein: a convolution with a chirp, of a power-of-two length ≥ 2 N − 1. */
function transformByChirp(data: Float64Array): Float64Array {
  const size = data.length / 2;
  let padded = 1;
  while (padded < 2 * size - 1) padded *= 2;
  const chirp = new Float64Array(2 * size);
  for (let n = 0, square = 0; n < size; n++) {
    if ((n & 0xffff) === 0) checkpoint(NaN, task);
    // n² mod 2N, kept exact by adding 2n + 1 each time.
    const angle = -Math.PI * square / size;
    chirp[2 * n] = Math.cos(angle);
    chirp[2 * n + 1] = Math.sin(angle);
    square = (square + 2 * n + 1) % (2 * size);
  }
  let a = new Float64Array(2 * padded);
  let b = new Float64Array(2 * padded);
  for (let n = 0; n < size; n++) {
    if ((n & 0xffff) === 0) checkpoint(NaN, task);
    const cr = chirp[2 * n]!, ci = chirp[2 * n + 1]!;
    const xr = data[2 * n]!, xi = data[2 * n + 1]!;
    a[2 * n] = xr * cr - xi * ci;
    a[2 * n + 1] = xr * ci + xi * cr;
    b[2 * n] = cr;
    b[2 * n + 1] = -ci;
    if (n > 0) {
      b[2 * (padded - n)] = cr;
      b[2 * (padded - n) + 1] = -ci;
    }
  }
  a = transformComplex(a) as Float64Array<ArrayBuffer>;
  b = transformComplex(b) as Float64Array<ArrayBuffer>;
  for (let i = 0; i < a.length; i += 2) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, task);
    const ar = a[i]!, ai = a[i + 1]!, br = b[i]!, bi = b[i + 1]!;
    // Parts stored swapped: the next transform is then the inverse one.
    a[i + 1] = ar * br - ai * bi;
    a[i] = ar * bi + ai * br;
  }
  const convolved = transformComplex(a);
  const out = new Float64Array(2 * size);
  for (let k = 0; k < size; k++) {
    if ((k & 0x1ffff) === 0) checkpoint(NaN, task);
    const xr = convolved[2 * k + 1]! / padded;
    const xi = convolved[2 * k]! / padded;
    const cr = chirp[2 * k]!, ci = chirp[2 * k + 1]!;
    out[2 * k] = xr * cr - xi * ci;
    out[2 * k + 1] = xr * ci + xi * cr;
  }
  return out;
}
