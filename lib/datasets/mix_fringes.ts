import { airIndex, rangingDiode } from "./bench.ts";

/** Rounds of Newton's method: C adds up to less than 1, a few are enough. */
const rounds = 20;

/** A thing in the beam that sends light back. */
export interface Target {
  /** From the diode's facet, in m. */
  readonly distance: number;
  /** C of the target alone (1). */
  readonly feedbackParameter: number;
}

/**
 * Fringes of several targets at once, for one wavelength without feedback:
 * `Δω τ1 = -Σ Cj (τ1/τj) sin(φj + Δω τj + arctan α)`.
 *
 * @returns Sum of the cosines, and the shift `Δω τ1` in rad to start from at
 * the next sample.
 */
export function mixFringes(
  targets: readonly Target[],
  wavelength: number,
  shift: number,
) {
  const lean = Math.atan(rangingDiode.linewidthEnhancementFactor);
  const first = targets[0]!.distance;
  const phases = targets.map(({ distance }) =>
    4 * Math.PI * airIndex * distance / wavelength
  );
  for (let round = 0; round < rounds; round++) {
    let [value, slope] = [shift, 1];
    targets.forEach(({ distance, feedbackParameter }, j) => {
      const ratio = distance / first;
      const angle = phases[j]! + shift * ratio + lean;
      value += feedbackParameter / ratio * Math.sin(angle);
      slope += feedbackParameter * Math.cos(angle);
    });
    shift -= value / slope;
  }
  let fringes = 0;
  targets.forEach(({ distance, feedbackParameter }, j) => {
    const ratio = distance / first;
    fringes += feedbackParameter / ratio *
      Math.cos(phases[j]! + shift * ratio);
  });
  return { fringes, shift };
}
