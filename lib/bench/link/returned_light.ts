import type { Surface } from "./surfaces.ts";

/** How the light gets from the diode to the target. */
export type LinkBeam =
  | {
    /** Without a lens. */
    readonly kind: "bare";
    /** Full angles of divergence at 1/e², in rad, both axes. */
    readonly divergence: readonly [number, number];
  }
  | {
    /** A lens makes the beam parallel, or focuses it on the target. */
    readonly kind: "collimated" | "focused";
    /** Beam diameter at the lens at 1/e², in m. */
    readonly diameter: number;
  };

/** Radii of the spot on the target at 1/e², in m, both axes. */
export function spotRadii(
  beam: LinkBeam,
  wavelength: number,
  distance: number,
): [number, number] {
  if (beam.kind === "bare") {
    const [x, y] = beam.divergence;
    const waist = (angle: number) => wavelength / (Math.PI * angle / 2);
    return [
      Math.hypot(waist(x), distance * Math.tan(x / 2)),
      Math.hypot(waist(y), distance * Math.tan(y / 2)),
    ];
  }
  const waist = beam.diameter / 2;
  const spread = wavelength * distance / (Math.PI * waist);
  const radius = beam.kind === "focused" ? spread : Math.hypot(waist, spread);
  return [radius, radius];
}

/**
 * Part of the power that gets back into the diode's mode, on average over
 * speckle. A matt surface throws ρ/π per solid angle, and the mode takes in
 * λ²/(π wx wy) of it (antenna theorem, Siegman 1966, from memory): ρ λ²/(π² wx wy), which
 * for a focused beam is ρ (a/L)², the share of the lens. A flat mirror sends
 * the beam on as if to 2L: for each axis 1/sqrt(1 + (L/z_R)²) (Joyce, DeLoach
 * 1984, from memory).
 */
export function returnedFraction(
  surface: Surface,
  beam: LinkBeam,
  wavelength: number,
  distance: number,
): number {
  const { kind, reflectance, gain } = surface;
  if (kind === "mirror") {
    return reflectance * mirrorOverlap(beam, wavelength, distance);
  }
  const [x, y] = spotRadii(beam, wavelength, distance);
  const share = gain * wavelength ** 2 / (Math.PI ** 2 * x * y);
  return reflectance * Math.min(1, share);
}

function mirrorOverlap(
  beam: LinkBeam,
  wavelength: number,
  distance: number,
): number {
  // The focus lies on the mirror: the beam goes back as it came.
  if (beam.kind === "focused") return 1;
  const waists = beam.kind === "bare"
    ? beam.divergence.map((angle) => wavelength / (Math.PI * angle / 2))
    : [beam.diameter / 2, beam.diameter / 2];
  return waists.reduce((product, waist) => {
    const range = Math.PI * waist * waist / wavelength;
    return product / Math.hypot(1, distance / range);
  }, 1);
}
