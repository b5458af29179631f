import { gridEffect, gridOf } from "./edge_grid.ts";
import type { FringeFit, StepEstimate } from "./fringe_fit.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import type { StrokeSignal } from "./stroke_signal.ts";

/** Edges seen at a steadier part of a sample than this are sharper than it (1). */
const sharp = 0.15;

/** Steps from the edges of a stroke. */
export interface EdgeSteps extends StepEstimate {
  /** The edges, on the ramp from -1 to 1 (1). */
  readonly edges: readonly number[];
  /** Whether no edge is missing or doubled. */
  readonly clean: boolean;
  /**
   * Standard uncertainty (1) from edges that are seen at whole samples only; it
   * does not average out over strokes that are sampled alike.
   */
  readonly gridUncertainty: number;
}

/**
 * Steps per ramp from the step edges: where the normalised signal crosses the
 * middle on its steep flank, with the fraction of a sample by straight lines,
 * and the slope of edge number against current.
 *
 * @param signal The stroke.
 * @param fit A fringe fit, for the power ramp and the amplitude.
 * @returns The estimate; `null` with fewer than 3 edges.
 */
export function stepsFromEdges(
  signal: StrokeSignal,
  fit: FringeFit,
): EdgeSteps | null {
  const { x, y } = signal;
  const n = x.length;
  const width = Math.max(1, Math.floor(n / (12 * fit.steps)));
  const flat = movingMean(
    y.map((value, i) => value - fit.background[i]!),
    width,
  );
  const [a, b] = fit.harmonics[0]!;
  const back = 0.4 * Math.hypot(a, b);
  const falling = steepFlankFalls(flat);
  const sign = falling ? -1 : 1;
  const edges: number[] = [];
  let [parts, squares] = [0, 0];
  let armed = false;
  for (let i = 1; i < n; i++) {
    const before = sign * flat[i - 1]!;
    const now = sign * flat[i]!;
    if (before < -back) armed = true;
    if (armed && before <= 0 && now > 0) {
      const part = before / (before - now);
      edges.push(x[i - 1]! + part * (x[i]! - x[i - 1]!));
      parts += part;
      squares += part * part;
      armed = false;
    }
  }
  if (edges.length < 3) return null;
  if (edges[0]! > edges[1]!) edges.reverse();
  const numbers = wholeNumbers(edges, 2 / fit.steps);
  // Against the currents from -1 to 1.
  const line = solveColumns(
    legendreColumns(Float64Array.from(edges), 1),
    Float64Array.from(numbers),
  );
  if (line === null) return null;
  // The scatter of few edges is itself poorly known: variance of Student's t.
  const nu = edges.length - 2;
  const widening = nu > 2 ? Math.sqrt(nu / (nu - 2)) : 3;
  const slope = line.coefficients[1]!;
  const scatter = Math.sqrt(
    squares / edges.length - (parts / edges.length) ** 2,
  );
  const { bias, deviation } = scatter < sharp
    ? gridEffect(numbers, 1 / slope, gridOf(x))
    : { bias: 0, deviation: 0 };
  const gridUncertainty = 2 * slope * slope * deviation;
  return {
    steps: 2 / (1 / slope - bias),
    standardUncertainty: Math.max(
      2 * widening * Math.sqrt(line.residualSum / nu * line.variance(1)),
      gridUncertainty,
    ),
    gridUncertainty,
    edges,
    // All within a fifth of a step of the line.
    clean: line.residuals.every((r) => Math.abs(r) < 0.2),
  };
}

/** Whether the steeper flank of the fringes goes down. */
function steepFlankFalls(values: Float64Array): boolean {
  let cubes = 0;
  for (let i = 1; i < values.length; i++) {
    const rise = values[i]! - values[i - 1]!;
    cubes += rise * rise * rise;
  }
  return cubes < 0;
}

/** Numbers of the edges; a gap of two spacings counts two. */
function wholeNumbers(edges: readonly number[], spacing: number): number[] {
  let number = 0;
  return edges.map((edge, k) =>
    k === 0
      ? 0
      : number += Math.max(1, Math.round((edge - edges[k - 1]!) / spacing))
  );
}

function movingMean(values: Float64Array, width: number): Float64Array {
  const half = Math.floor(width / 2);
  if (half === 0) return values;
  const out = new Float64Array(values.length);
  let sum = 0;
  let count = 0;
  for (let i = 0; i < Math.min(half, values.length); i++) {
    sum += values[i]!;
    count++;
  }
  for (let i = 0; i < values.length; i++) {
    if (i + half < values.length) {
      sum += values[i + half]!;
      count++;
    }
    if (i - half - 1 >= 0) {
      sum -= values[i - half - 1]!;
      count--;
    }
    out[i] = sum / count;
  }
  return out;
}
