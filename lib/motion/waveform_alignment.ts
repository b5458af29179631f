import { type Quantity, quantity } from "../result/mod.ts";
import type { Displacement } from "./measure_displacement.ts";
import { averagePeriods, type WaveformAverage } from "./waveform_average.ts";

const mostRounds = 6;
/** Fewest groups that say how their places scatter about a line. */
const leastGroups = 4;

/**
 * The mean of a motion's periods at the frequency at which groups of them lie best
 * on each other: each group is shifted onto the mean by least squares, and a line
 * through the shifts along the record says by how much the frequency is off.
 *
 * @param displacement The displacement.
 * @param start Frequency to start from, in Hz: off by less than a tenth of a period
 * along the record.
 */
export function alignedPeriods(
  displacement: Displacement,
  start: number,
): { average: WaveformAverage; frequency: Quantity } {
  let frequency = start;
  let uncertainty = NaN;
  let average = averagePeriods(displacement, frequency);
  for (let round = 0; round < mostRounds; round++) {
    const { change, u } = changeOf(average, frequency);
    if (!(Math.abs(change) > 0)) break;
    uncertainty = u;
    // Less than this moves no period by a thousandth.
    if (
      Math.abs(change) < Math.max(0.05 * u, 1e-7 * frequency / average.periods)
    ) {
      break;
    }
    frequency += change;
    average = averagePeriods(displacement, frequency);
  }
  return { average, frequency: quantity(frequency, uncertainty, "Hz") };
}

/** By how much the frequency is off, and how sure that is, in Hz. */
function changeOf(
  { mean, groups, periodsInGroup, periods }: WaveformAverage,
  frequency: number,
): { change: number; u: number } {
  const n = mean.length;
  const count = groups.length;
  if (count < 2) return { change: 0, u: NaN };
  const slope = mean.map((_, j) =>
    (mean[(j + 1) % n]! - mean[(j + n - 1) % n]!) * n / 2
  );
  const steep = slope.reduce((sum, value) => sum + value * value, 0);
  // By how much of a period each group is late.
  const late = groups.map((group) => {
    let sum = 0;
    for (let j = 0; j < n; j++) sum -= slope[j]! * (group[j]! - mean[j]!);
    return sum / steep;
  });
  const middle = (count - 1) / 2;
  let sk = 0, skk = 0, average = 0;
  late.forEach((value, k) => {
    sk += (k - middle) * value;
    skk += (k - middle) ** 2;
    average += value / count;
  });
  const perGroup = sk / skk;
  let squares = 0;
  late.forEach((value, k) =>
    squares += (value - average - perGroup * (k - middle)) ** 2
  );
  const perPeriod = count / periods;
  const scatter = count < leastGroups
    ? NaN
    : Math.sqrt(squares / (count - 2) / skk);
  return {
    change: -perGroup * perPeriod * frequency,
    u: scatter * perPeriod * frequency *
      Math.sqrt(periods / sumOf(periodsInGroup)),
  };
}

function sumOf(values: readonly number[]): number {
  return values.reduce((a, b) => a + b, 0);
}
