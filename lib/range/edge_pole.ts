/** What one pole makes of a piece of its input, up to the end of that piece. */
interface PieceWeights {
  /** What it keeps of its state (1). */
  readonly kept: number;
  /** Weights of the first and the last value of a straight piece (1). */
  readonly first: number;
  readonly last: number;
}

/**
 * One pole y' = r (v - y) over a straight piece of v:
 * y = κ y₀ + v₁ (1 - (1 - κ)/a) + v₀ ((1 - κ)/a - κ), a = r × length, κ = e^-a.
 *
 * @param rate r, per step.
 * @param length In steps.
 */
function straightPiece(rate: number, length: number): PieceWeights {
  const a = rate * length;
  const kept = Math.exp(-a);
  // By its series where the difference would be lost.
  const last = a < 0.02
    ? a / 2 * (1 - a / 3 * (1 - a / 4))
    : 1 - (1 - kept) / a;
  return { kept, first: 1 - kept - last, last };
}

/**
 * Weight of the first value of a piece that runs into the end of a branch like a
 * root, v = v₁ + (v₀ - v₁) √(s/length) with s what is left of it:
 * ∫₀ᵃ e^-x √(x/a) dx = Σ (-1)ᵏ aᵏ⁺¹ / (k! (k + 3/2)).
 */
function rootWeight(a: number): number {
  // The series would be lost; the integral has long come to its end, Γ(3/2)/√a.
  if (a > 16) return Math.sqrt(Math.PI / a) / 2;
  let sum = 0;
  let term = a;
  for (let k = 0; Math.abs(term) > 1e-12; k++) {
    sum += term / (k + 1.5);
    term *= -a / (k + 1);
  }
  return sum;
}

/** A jump inside of a step, in one or another quantity. */
export interface StepJump {
  /** The step, by its end. */
  readonly index: number;
  /** Part of the step after the jump, 0 to 1. */
  readonly u: number;
  /** What the output at its end is larger by than without the jump. */
  readonly change: number;
}

/** Weights of the values around a jump in the output at the end of its step. */
export interface JumpWeights {
  /** At the start of the step and at its end, less those without a jump. */
  readonly start: number;
  readonly end: number;
  /** Just before and just after the jump. */
  readonly before: number;
  readonly after: number;
}

/**
 * The output after a step in which the input runs into the end of its branch like
 * a root, jumps, and goes on straight.
 *
 * @param rate Of the pole, per step.
 * @param u Part of the step after the jump, 0 to 1.
 */
export function jumpWeights(rate: number, u: number): JumpWeights {
  const whole = straightPiece(rate, 1);
  const { first, last, kept } = straightPiece(rate, u);
  const a = rate * (1 - u);
  const root = rootWeight(a);
  return {
    start: kept * root - whole.first,
    end: last - whole.last,
    before: kept * (1 - Math.exp(-a) - root),
    after: first,
  };
}

/**
 * One pole behind values joined by straight lines, several to a sample; one value
 * per sample comes out.
 *
 * @param values Its input at the ends of the steps.
 * @param rate Of the pole, per step.
 * @param parts Steps to a sample.
 * @param jumps Jumps of the input, in order.
 */
export function behindPole(
  values: Float64Array,
  rate: number,
  parts: number,
  jumps: readonly StepJump[] = [],
): Float64Array {
  const { kept, first, last } = straightPiece(rate, 1);
  const out = new Float64Array(values.length / parts);
  let before = values[0]!;
  // As if it had been running before, on a straight line.
  let state = before - (values[1]! - before) / rate;
  let [i, next] = [1, 0];
  let jumpAt = jumps[0]?.index ?? NaN;
  for (let s = 0; s < out.length; s++) {
    for (const end = (s + 1) * parts; i < end; i++) {
      const value = values[i]!;
      state = kept * state + first * before + last * value;
      before = value;
      if (i !== jumpAt) continue;
      while (jumps[next]?.index === i) state += jumps[next++]!.change;
      jumpAt = jumps[next]?.index ?? NaN;
    }
    out[s] = state;
  }
  return out;
}

/**
 * The transpose of {@linkcode behindPole} for one step to a sample: its product
 * with a column is that of the values with the column behind the pole.
 *
 * @param values One per sample.
 * @param rate Of the pole, per step.
 */
export function beforePole(values: Float64Array, rate: number): Float64Array {
  const { kept, first, last } = straightPiece(rate, 1);
  const out = new Float64Array(values.length);
  let state = 0;
  for (let i = values.length - 1; i > 0; i--) {
    const next = state;
    state = values[i]! + kept * next;
    out[i] = last * state + first * next;
  }
  // How it had been running before.
  out[0] = first * state;
  state = values[0]! + kept * state;
  out[0] += (1 + 1 / rate) * state;
  out[1]! -= state / rate;
  return out;
}
