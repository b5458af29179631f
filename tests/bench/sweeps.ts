import type { LightCurrentSweep } from "fringebook";
import { createRandom } from "fringebook/signal";

/** A made-up sweep with known threshold, as in diode data sheets. */
export interface SweepRecipe {
  seed?: number;
  threshold?: number;
  slope?: number;
  /** Width of the rounded knee, in A. */
  width?: number;
  highest?: number;
  points?: number;
  /** Noise of power in W and of monitor in A. */
  noise?: number;
  /** Bend of the upper part (thermal roll-over), in W/A². */
  rollOver?: number;
}

export function makeSweep(recipe: SweepRecipe = {}): LightCurrentSweep {
  const {
    seed = 1,
    threshold = 0.025,
    slope = 0.3,
    width = 0.2e-3,
    highest = 0.05,
    points = 201,
    noise = 8e-6,
    rollOver = 0,
  } = recipe;
  const random = createRandom(seed);
  const current = Float64Array.from(
    { length: points },
    (_, i) => highest * i / (points - 1),
  );
  const light = current.map((value) => {
    const above = value - threshold;
    const lasing = (above + Math.hypot(above, width)) / 2;
    return slope * lasing - rollOver * lasing * lasing + 0.004 * value;
  });
  return {
    current,
    power: light.map((value) => value + noise * random.normal()),
    monitor: light.map((value) => 0.01 * (value + noise * random.normal())),
    voltage: null,
  };
}
