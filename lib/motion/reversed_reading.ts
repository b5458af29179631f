import { fringeModel } from "./fringe_model.ts";
import type { Reading } from "./hypotheses.ts";
import { labelBetween } from "./jump_labels.ts";
import type { PhaseFit } from "./phase_fit.ts";
import type { PhaseLabels } from "./phase_labels.ts";

/** The same reading with the motion the other way round. */
export function reversed(reading: Reading, sampleCount: number): Reading {
  if (reading.kind === "smooth") {
    return { ...reading, direction: reading.direction.map((way) => -way) };
  }
  const jumps = reading.labels.jumps.map((jump) => ({
    ...jump,
    sign: -jump.sign,
  }));
  if (reading.kind === "jumps") {
    return { kind: "jumps", labels: labelBetween(jumps, sampleCount) };
  }
  const pieces = reading.labels.pieces.map((piece) => ({
    ...piece,
    origin: -piece.origin,
    sign: -piece.sign,
  }));
  return {
    ...reading,
    labels: { ...reading.labels, jumps, pieces },
    phase: reading.phase.map((value) => -value),
  };
}

/** The same signal read with the motion the other way round: ψ becomes -ψ. */
export function reversedFit(fit: PhaseFit, labels: PhaseLabels): PhaseFit {
  const { parameters, coefficients, covariance, free } = fit;
  const q = free.indexOf(1);
  const count = free.length;
  return {
    ...fit,
    coefficients: coefficients.map((value) => -value),
    parameters: { ...parameters, q: -parameters.q },
    model: fringeModel(
      parameters.p,
      -parameters.q,
      fit.noise / parameters.amplitude,
    ),
    covariance: covariance.map((value, i) =>
      (Math.floor(i / count) === q) !== (i % count === q) ? -value : value
    ),
    coupling: fit.coupling.map((column, a) =>
      a === q ? column : column.map((value) => -value)
    ),
    labels: { ...labels, firstBranch: -fit.labels.firstBranch },
  };
}
