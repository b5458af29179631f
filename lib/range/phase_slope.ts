import type { FringeFit, StepEstimate } from "./fringe_fit.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import { resample, type StrokeSignal } from "./stroke_signal.ts";

/**
 * Steps per ramp from the slope of the unwrapped phase: the signal is turned
 * back by the guessed phase, averaged over one fringe twice (which removes the
 * harmonics of a saw-tooth), and its angle unwrapped and fitted.
 *
 * @param signal The stroke.
 * @param fit A fringe fit, for the power ramp and the first guess.
 * @returns The estimate and the phase; `null` below 4 steps.
 */
export function stepsFromPhase(
  signal: StrokeSignal,
  fit: FringeFit,
): (StepEstimate & { x: Float64Array; phase: Float64Array }) | null {
  if (fit.steps < 4) return null;
  const n = signal.x.length;
  const even = resample({
    x: signal.x,
    y: signal.y.map((value, i) => value - fit.background[i]!),
  }, n);
  const span = even.x[n - 1]! - even.x[0]!;
  const period = n * 2 / (fit.steps * span);
  let real: Float64Array = even.y.map((value, i) =>
    value * Math.cos(Math.PI * fit.steps * even.x[i]!)
  );
  let imaginary: Float64Array = even.y.map((value, i) =>
    -value * Math.sin(Math.PI * fit.steps * even.x[i]!)
  );
  for (let pass = 0; pass < 2; pass++) {
    real = boxMean(real, period);
    imaginary = boxMean(imaginary, period);
  }
  const margin = Math.ceil(period);
  const kept = n - 2 * margin;
  if (kept < 16) return null;
  const x = even.x.slice(margin, n - margin);
  const turned = new Float64Array(kept);
  let turns = 0;
  for (let i = 0; i < kept; i++) {
    const angle = Math.atan2(imaginary[i + margin]!, real[i + margin]!);
    if (i > 0) {
      turns -= Math.round(
        (angle + 2 * Math.PI * turns - turned[i - 1]!) / (2 * Math.PI),
      );
    }
    turned[i] = angle + 2 * Math.PI * turns;
  }
  const u = x.map((value) => 2 * (value - x[0]!) / (x[kept - 1]! - x[0]!) - 1);
  const line = solveColumns(
    legendreColumns(u, fit.phase.length > 2 ? 3 : 1),
    turned,
  );
  if (line === null) return null;
  const slope = line.coefficients[1]! * 2 / (x[kept - 1]! - x[0]!);
  // Noise of the phase over one fringe, and as many independent points.
  const amplitude = Math.hypot(...fit.harmonics[0]!);
  const kappa = 12 * 2 * fit.noise ** 2 / amplitude ** 2 / kept;
  return {
    steps: fit.steps + slope / Math.PI,
    standardUncertainty: Math.sqrt(kappa) /
      (Math.PI * (x[kept - 1]! - x[0]!)),
    x,
    phase: turned.map((value, i) => value + Math.PI * fit.steps * x[i]!),
  };
}

/** Mean over a window of `width` samples, which need not be whole. */
function boxMean(values: Float64Array, width: number): Float64Array {
  const n = values.length;
  const sums = new Float64Array(n + 1);
  for (let i = 0; i < n; i++) sums[i + 1] = sums[i]! + values[i]!;
  const upTo = (position: number) => {
    const at = Math.min(n, Math.max(0, position));
    const whole = Math.min(n - 1, Math.floor(at));
    return sums[whole]! + (at - whole) * values[whole]!;
  };
  return values.map((_, i) =>
    (upTo(i + 0.5 + width / 2) - upTo(i + 0.5 - width / 2)) / width
  );
}
