import { fitNonlinear } from "../fit/mod.ts";
import { startsOfRingDown } from "./ring_down_start.ts";
import type { Transition } from "./waveform_features.ts";

/** Ringing after a transition. */
export interface Ringing {
  /** Natural frequency, in Hz. */
  readonly frequency: number;
  /** Damping ratio ζ (1). */
  readonly damping: number;
}

/** Part of the step that ringing must have at its first swing. */
const leastAmplitude = 0.01;
/** Periods of the ringing that must fit between two transitions. */
const leastPeriods = 1;
/** Part of its square that a decaying oscillation must describe. */
const leastDescribed = 0.9;
const mostRows = 512;

/**
 * The oscillation that decays after a rise, as x∞ + e^(-ζω₀t)(a cos ω_d t + b sin
 * ω_d t) until the fall begins; `null` where nothing rings.
 *
 * @param values The period, with the rise upwards.
 * @param rise The rise.
 * @param fall The fall that ends it.
 * @param perPlace Time between places, in s.
 * @param step Height of the rise, in m.
 */
export function ringingAfter(
  values: Float64Array,
  rise: Transition | null,
  fall: Transition | null,
  perPlace: number,
  step: number,
): Ringing | null {
  if (rise === null || fall === null) return null;
  const n = values.length;
  const first = Math.ceil(rise.to);
  // The fall is known from its 90 % level on: keep clear of its beginning.
  const length = Math.floor(((fall.from - fall.places - first) % n + n) % n);
  if (length < 12) return null;
  const tail = Float64Array.from(
    { length },
    (_, k) => values[(first + k) % n]!,
  );
  const rate = 1 / perPlace;
  const thin = Math.max(1, Math.ceil(length / mostRows));
  const times = Float64Array.from(
    { length: Math.floor(length / thin) },
    (_, k) => k * thin * perPlace,
  );
  const y = times.map((_, k) => tail[k * thin]!);
  let best: { parameters: number[]; left: number } | null = null;
  for (const { endValue, mode } of startsOfRingDown(tail, rate)) {
    const fit = fitNonlinear(decay, times, y, [endValue, ...mode], {
      lower: [-Infinity, 0, 0, -Infinity, -Infinity],
      upper: [Infinity, rate / 2, 0.95, Infinity, Infinity],
      maximumIterations: 40,
    });
    if (best === null || fit.chiSquare < best.left) {
      best = {
        parameters: fit.parameters.map(({ value }) => value),
        left: fit.chiSquare,
      };
    }
  }
  if (best === null) return null;
  const [end, frequency, damping, a, b] = best.parameters as [
    number,
    number,
    number,
    number,
    number,
  ];
  const all = y.reduce((sum, value) => sum + (value - end) ** 2, 0);
  const rings = Math.hypot(a, b) > leastAmplitude * step &&
    frequency * length * perPlace > leastPeriods &&
    damping > 0 && damping < 0.9 &&
    best.left < (1 - leastDescribed) * all;
  return rings ? { frequency, damping } : null;
}

function decay(
  [end, frequency, damping, a, b]: readonly number[],
  times: ArrayLike<number>,
): Float64Array {
  const omega = 2 * Math.PI * frequency!;
  const damped = omega * Math.sqrt(Math.max(1e-12, 1 - damping! ** 2));
  return Float64Array.from(
    times,
    (time) =>
      end! + Math.exp(-damping! * omega * time) *
        (a! * Math.cos(damped * time) + b! * Math.sin(damped * time)),
  );
}
