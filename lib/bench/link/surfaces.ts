/** How a surface throws light back. */
export interface Surface {
  /** Name, in words. */
  readonly name: string;
  /** Spreads the light, sends it back where it came from, or mirrors it. */
  readonly kind: "matt" | "retroreflecting" | "mirror";
  /** Part of the light that is thrown back (1). */
  readonly reflectance: number;
  /**
   * Light towards the source relative to a white matt surface (1); 1 for matt
   * surfaces, without meaning for mirrors.
   */
  readonly gain: number;
}

/** Usual targets; the numbers are common practice, no source. */
export const surfaces: readonly Surface[] = [
  { name: "black card", kind: "matt", reflectance: 0.04, gain: 1 },
  { name: "grey card", kind: "matt", reflectance: 0.18, gain: 1 },
  { name: "white card", kind: "matt", reflectance: 0.8, gain: 1 },
  { name: "white paint", kind: "matt", reflectance: 0.9, gain: 1 },
  { name: "ground metal", kind: "matt", reflectance: 0.6, gain: 5 },
  {
    name: "retroreflecting sheet",
    kind: "retroreflecting",
    reflectance: 0.7,
    gain: 700,
  },
  { name: "glass plate", kind: "mirror", reflectance: 0.04, gain: 1 },
  { name: "mirror", kind: "mirror", reflectance: 0.95, gain: 1 },
];

/** Finds a surface by name, or takes one as given. */
export function findSurface(surface: string | Surface): Surface {
  const found = typeof surface === "string"
    ? surfaces.find(({ name }) => name === surface)
    : surface;
  if (found === undefined) {
    throw new RangeError(
      `Cannot find the surface '${surface}': there are ${
        surfaces.map(({ name }) => name).join(", ")
      }; or give reflectance, kind and gain`,
    );
  }
  const { reflectance, gain } = found;
  if (!(reflectance > 0 && reflectance <= 1 && gain > 0)) {
    throw new RangeError(
      `Cannot use the surface '${found.name}' as 'reflectance' must lie from 0 to 1 and 'gain' above 0: current values are ${reflectance}, ${gain}`,
    );
  }
  return found;
}
