import { createCapture } from "fringebook";
import { createRandom } from "fringebook/signal";

/**
 * Level of a bench with a lens: a peak where the spot is sharp, an inverse square
 * beyond, in A. Shares no line with the library.
 */
export function lensLevel(distance: number): number {
  const near = (distance / 0.02) ** 2;
  return 200e-6 + 60e-6 * near / (0.3 + near ** 2) ** 0.75 * 1.2;
}

/** A record of a level: volts of 100 kΩ, white noise, a fringe it stands on. */
export function levelCapture(
  level: number,
  { seed = 1, noise = 2e-6, fringe = 0, samples = 4000, samplingRate = 10e3 } =
    {},
) {
  const random = createRandom(seed);
  const stands = fringe * Math.cos(2 * Math.PI * random.uniform());
  return createCapture([{
    name: "CH1",
    role: "monitor signal",
    unit: "V",
    samples: Float64Array.from(
      { length: samples },
      () => 1e5 * (level + stands + noise * random.normal()),
    ),
  }], { samplingRate });
}
