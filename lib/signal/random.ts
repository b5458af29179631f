/** A seeded stream of random numbers. */
export interface RandomStream {
  /** Uniform on [0, 1), 53 random bits. */
  uniform(): number;
  /** Standard normal: mean 0, variance 1. */
  normal(): number;
  /** Uniform integer on 0 … n − 1. */
  integer(n: number): number;
}

const stateLength = 624;
const middle = 397;

/**
 * Makes a seeded stream of random numbers: the Mersenne Twister MT19937 with
 * its 2002 seeding, 53-bit uniforms, and normals by Marsaglia's polar method.
 * The same seed gives the same numbers on every machine, equal to those of
 * NumPy's `RandomState(seed)`.
 *
 * Sources: Matsumoto and Nishimura 1998, ACM Trans. Model. Comput. Simul. 8, 3;
 * Marsaglia and Bray 1964, SIAM Rev. 6, 260.
 *
 * @param seed Integer from 0 to 2³² − 1.
 * @returns The stream.
 * @throws {RangeError} If the seed is not such an integer.
 *
 * @example
 * ```ts
 * import { createRandom } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const random = createRandom(1);
 * // NumPy: RandomState(1).random_sample() = 0.417022004702574
 * expect(random.uniform()).toBeCloseTo(0.417022004702574, 12);
 * ```
 */
export function createRandom(seed: number): RandomStream {
  if (!Number.isInteger(seed) || seed < 0 || seed > 0xffffffff) {
    throw new RangeError(
      `Cannot make a random stream as 'seed' must be an integer from 0 to 4294967295: current value is ${seed}`,
    );
  }
  const state = seededState(seed);
  let position = stateLength;
  return streamOfWords(() => {
    if (position === stateLength) {
      refill(state);
      position = 0;
    }
    let y = state[position++]!;
    y ^= y >>> 11;
    y ^= (y << 7) & 0x9d2c5680;
    y ^= (y << 15) & 0xefc60000;
    y ^= y >>> 18;
    return y >>> 0;
  });
}

/**
 * Uniform and normal numbers from uniform words of 32 bits.
 *
 * @param next32 Gives the next word, an integer from 0 to 2³² − 1.
 */
export function streamOfWords(next32: () => number): RandomStream {
  let spare = NaN;

  function uniform(): number {
    const high = next32() >>> 5;
    const low = next32() >>> 6;
    return (high * 67108864 + low) / 9007199254740992;
  }

  function normal(): number {
    if (!Number.isNaN(spare)) {
      const value = spare;
      spare = NaN;
      return value;
    }
    let x: number, y: number, squared: number;
    do {
      x = 2 * uniform() - 1;
      y = 2 * uniform() - 1;
      squared = x * x + y * y;
    } while (squared >= 1 || squared === 0);
    const factor = Math.sqrt(-2 * Math.log(squared) / squared);
    spare = factor * x;
    return factor * y;
  }

  function integer(n: number): number {
    if (!Number.isInteger(n) || n < 1 || n > 0x100000000) {
      throw new RangeError(
        `Cannot draw an integer as 'n' must be an integer from 1 to 4294967296: current value is ${n}`,
      );
    }
    if (n === 1) return 0;
    const mask = 0xffffffff >>> Math.clz32(n - 1);
    let value: number;
    do value = (next32() & mask) >>> 0; while (value >= n);
    return value;
  }

  return { uniform, normal, integer };
}

function seededState(seed: number): Uint32Array {
  const state = new Uint32Array(stateLength);
  state[0] = seed;
  for (let i = 1; i < stateLength; i++) {
    const before = state[i - 1]! ^ (state[i - 1]! >>> 30);
    state[i] = Math.imul(1812433253, before) + i;
  }
  return state;
}

function refill(state: Uint32Array): void {
  for (let i = 0; i < stateLength; i++) {
    const y = (state[i]! & 0x80000000) |
      (state[(i + 1) % stateLength]! & 0x7fffffff);
    state[i] = state[(i + middle) % stateLength]! ^ (y >>> 1) ^
      (y & 1 ? 0x9908b0df : 0);
  }
}
