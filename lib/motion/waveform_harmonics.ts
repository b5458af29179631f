import type { WaveformAverage } from "./waveform_average.ts";

/** A value with its standard uncertainty, in one unit. */
export interface Estimate {
  readonly value: number;
  /** `NaN` where there are too few groups. */
  readonly uncertainty: number;
}

/** Fewest groups whose scatter says something. */
const leastGroups = 4;

/**
 * What is read from the mean period, and by how much it scatters where one group
 * of periods after the other is left out: u² = (G-1)/G Σ (θ_g - mean θ)².
 *
 * Source: Efron 1982 (jackknife), from memory.
 */
export function jackknife(
  average: WaveformAverage,
  read: (values: Float64Array) => Record<string, number>,
): Record<string, Estimate> {
  const { mean, groups, periodsInGroup } = average;
  const whole = read(mean);
  const count = groups.length;
  const total = periodsInGroup.reduce((a, b) => a + b, 0);
  const left = count < leastGroups ? [] : groups.map((group, g) => {
    const share = periodsInGroup[g]! / total;
    return read(
      mean.map((value, j) => (value - share * group[j]!) / (1 - share)),
    );
  });
  const found: Record<string, Estimate> = {};
  for (const [name, value] of Object.entries(whole)) {
    const own = left.map((one) => one[name]!);
    const middle = own.reduce((a, b) => a + b, 0) / count;
    const squares = own.reduce((sum, one) => sum + (one - middle) ** 2, 0);
    found[name] = {
      value,
      uncertainty: left.length === 0
        ? NaN
        : Math.sqrt(squares * (count - 1) / count),
    };
  }
  return found;
}

/** A harmonic of the mean period. */
export interface PeriodHarmonic {
  readonly order: number;
  /** Amplitude, in m. */
  readonly amplitude: Estimate;
  /** Phase of its cosine at the start of the period, in rad. */
  readonly phase: Estimate;
}

/** The first harmonics of the mean period, and their scatter over the groups. */
export function harmonicsOfPeriod(
  average: WaveformAverage,
  most: number,
): PeriodHarmonic[] {
  const places = average.mean.length;
  const angle = 2 * Math.PI / places;
  const cosine = Float64Array.from(average.mean, (_, j) => Math.cos(angle * j));
  const sine = Float64Array.from(average.mean, (_, j) => Math.sin(angle * j));
  return Array.from({ length: most }, (_, k) => {
    const order = k + 1;
    // Samples that lie about the places smooth them.
    const gain = Math.exp(
      -((2 * Math.PI * order / places) ** 2) * average.scatter / 2,
    );
    const parts = jackknife(average, (values) => {
      let a = 0, b = 0;
      for (let j = 0; j < places; j++) {
        const at = j * order % places;
        a += values[j]! * cosine[at]!;
        b -= values[j]! * sine[at]!;
      }
      return { a: 2 * a / places / gain, b: 2 * b / places / gain };
    });
    const a = parts.a!.value, b = parts.b!.value;
    const amplitude = Math.hypot(a, b);
    const u = Math.hypot(parts.a!.uncertainty, parts.b!.uncertainty) /
      Math.SQRT2;
    return {
      order,
      amplitude: { value: amplitude, uncertainty: u },
      phase: { value: Math.atan2(b, a), uncertainty: u / amplitude },
    };
  });
}
