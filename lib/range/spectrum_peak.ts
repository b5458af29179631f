import type { FringeFit, StepEstimate } from "./fringe_fit.ts";
import { type StrokeSignal, thin } from "./stroke_signal.ts";

/**
 * Steps per ramp from the top of the line in the spectrum of the signal against
 * current, after the power ramp is removed, under a Hann window.
 *
 * @param signal The stroke.
 * @param fit A fringe fit, for the power ramp and the first guess.
 * @returns The estimate; `null` below 4 steps.
 */
export function stepsFromSpectrum(
  signal: StrokeSignal,
  fit: FringeFit,
): StepEstimate | null {
  if (fit.steps < 4) return null;
  const flatSignal = {
    x: signal.x,
    y: signal.y.map((value, i) => value - fit.background[i]!),
  };
  // Means over a small part of a fringe have the same line.
  const most = Math.max(400, Math.ceil(16 * fit.steps));
  const { x, y } = thin(flatSignal, most);
  const noise = fit.noise * Math.sqrt(x.length / signal.x.length);
  const n = x.length;
  const [a, b] = [x[0]!, x[n - 1]!];
  const centre = (a + b) / 2;
  const window = x.map((value, i) => {
    const here = Math.sin(Math.PI * (value - a) / (b - a)) ** 2;
    // Samples that lie close together in current count less.
    const spacing = Math.abs(
      x[Math.min(n - 1, i + 1)]! - x[Math.max(0, i - 1)]!,
    );
    return here * spacing;
  });
  const flat = y.map((value, i) => value * window[i]!);
  const power = (steps: number) => {
    let real = 0;
    let imaginary = 0;
    for (let i = 0; i < n; i++) {
      const angle = Math.PI * steps * (x[i]! - centre);
      real += flat[i]! * Math.cos(angle);
      imaginary += flat[i]! * Math.sin(angle);
    }
    return real * real + imaginary * imaginary;
  };
  const golden = (Math.sqrt(5) - 1) / 2;
  const reach = 1.2 / Math.abs(b - a) * 2;
  let [low, high] = [fit.steps - reach, fit.steps + reach];
  let left = high - golden * (high - low);
  let right = low + golden * (high - low);
  let [powerLeft, powerRight] = [power(left), power(right)];
  while (high - low > 1e-4) {
    if (powerLeft > powerRight) {
      [high, right, powerRight] = [right, left, powerLeft];
      left = high - golden * (high - low);
      powerLeft = power(left);
    } else {
      [low, left, powerLeft] = [left, right, powerRight];
      right = low + golden * (high - low);
      powerRight = power(right);
    }
  }
  // A parabola through three points settles the last digits.
  const middle = (low + high) / 2;
  const h = 0.01;
  const [p, q, r] = [power(middle - h), power(middle), power(middle + h)];
  const steps = middle + h * (p - r) / (2 * (p - 2 * q + r));
  // Variance of the top of a windowed line in white noise.
  let above = 0;
  let below = 0;
  for (let i = 0; i < n; i++) {
    const t = x[i]! - centre;
    above += (window[i]! * t) ** 2;
    below += window[i]! * t * t;
  }
  const amplitude = Math.hypot(...fit.harmonics[0]!);
  return {
    steps,
    standardUncertainty: Math.sqrt(2 * above) * noise / amplitude / below /
      Math.PI,
  };
}
