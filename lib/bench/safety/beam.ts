/** A Gaussian beam far from its waist. */
export interface SafetyBeam {
  /** Diameter at the exit, in m, at 1/e² of the peak irradiance. */
  readonly diameter: number;
  /** Full angles of divergence along both axes, in rad, at 1/e². */
  readonly divergence: readonly [number, number];
}

/** Ways to say where a beam ends. */
export const beamConventions: readonly BeamConvention[] = [
  "1/e²",
  "1/e",
  "full width at half maximum",
];

/** Way to say where a beam ends. */
export type BeamConvention = "1/e²" | "1/e" | "full width at half maximum";

/** Factor from a width by a convention to that at 1/e². */
export function toSquaredConvention(convention: BeamConvention): number {
  if (convention === "1/e²") return 1;
  if (convention === "1/e") return Math.SQRT2;
  return Math.sqrt(2 / Math.LN2);
}

/** Diameters of the beam at a distance, in m, at 1/e². */
export function beamDiameters(
  beam: SafetyBeam,
  distance: number,
): [number, number] {
  const [x, y] = beam.divergence;
  return [
    beam.diameter + 2 * distance * Math.tan(Math.min(x, 3) / 2),
    beam.diameter + 2 * distance * Math.tan(Math.min(y, 3) / 2),
  ];
}

/**
 * Part of a Gaussian beam's power that goes through a round aperture on its
 * axis; 1 - exp(-2a²/w²) for a round beam.
 */
export function apertureFraction(
  diameters: readonly [number, number],
  aperture: number,
): number {
  const radius = aperture / 2;
  const [wx, wy] = [diameters[0] / 2, diameters[1] / 2];
  if (wx === 0 || wy === 0) return 1;
  // Over the angle: ∫ dφ/2π s (1 - exp(-2 a² q(φ)))/q with q = cos²/wx² + sin²/wy².
  const steps = 720;
  let sum = 0;
  for (let k = 0; k < steps; k++) {
    const angle = Math.PI / 2 * (k + 0.5) / steps;
    const q = (Math.cos(angle) / wx) ** 2 + (Math.sin(angle) / wy) ** 2;
    sum += -Math.expm1(-2 * radius * radius * q) / q;
  }
  return Math.min(1, sum / steps / (wx * wy));
}
