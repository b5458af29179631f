import type { ChannelDoubt } from "../../capture/mod.ts";
import { fitLinear, monotoneCubic } from "../../fit/mod.ts";
import type { CurrentAtVoltage, DrawnCurrent } from "./current_curve.ts";

/** Places between two points at which the deviations are worked out. */
const between = 8;
/** Part of a point's uncertainty by which it is moved to see what that does (1). */
const move = 0.5;

/** A diode with a series resistance: V = a ln I + R I + c. */
interface DiodeLaw {
  /** Voltage at a current, in V. */
  readonly voltageAt: (current: number) => number;
  /** dI/dV at a current, in A/V. */
  readonly slopeAt: (current: number) => number;
  /** Scatter of the points about it, in V. */
  readonly scatter: number;
  readonly degreesOfFreedom: number;
}

/**
 * What makes a current off that was drawn from a curve:
 *
 * - the points, each by its own uncertainty, carried through the curve; where none
 *   is stated, by how far the points lie off the law of a diode;
 * - the curve between the points: what becomes of that law, known at the voltages
 *   of the points alone;
 * - the scale of the recorded voltage against that of the curve.
 *
 * @param curve The curve.
 * @param voltageScale Relative standard uncertainty of the voltage scale (1).
 * @returns The doubts, by current; without the law where a point has no current.
 *
 * Source: JCGM 100:2008, 5.1.2; Shockley 1949 (from memory) for the law.
 */
export function curveDoubts(
  { points, at }: DrawnCurrent,
  voltageScale: number,
): ChannelDoubt[] {
  const voltages = points.flatMap(({ voltage }, k) =>
    k + 1 === points.length ? [voltage] : Array.from(
      { length: between },
      (_, j) => voltage + (points[k + 1]!.voltage - voltage) * j / between,
    )
  );
  // A point of a sweep may fall below the one before: the table must rise.
  const places = voltages.filter((voltage, k) =>
    k === 0 || at(voltage) > at(voltages[k - 1]!)
  );
  const currents = places.map(at);
  const law = lawOf(points);
  const uncertainties = points.map(({ current, standardUncertainty }) =>
    standardUncertainty ?? (law?.scatter ?? 0) * (law?.slopeAt(current) ?? 0)
  );
  const stated = points.some((each) => each.standardUncertainty !== undefined);
  const doubts: ChannelDoubt[] = [];
  const add = (
    source: string,
    deviations: readonly (readonly number[])[],
    degreesOfFreedom = Infinity,
  ) => {
    const some = deviations.filter((course) => course.some((d) => d !== 0));
    if (some.length === 0) return;
    doubts.push({
      source,
      degreesOfFreedom,
      found: false,
      at: currents,
      deviations: some,
    });
  };
  add(
    "points of the current curve",
    points.map((_, k) => {
      const step = move * uncertainties[k]!;
      if (!(step > 0)) return [];
      const moved = (by: number) =>
        monotoneCubic(
          points.map(({ voltage }) => voltage),
          points.map(({ current }, j) => j === k ? current + by : current),
        );
      const [above, below] = [moved(step), moved(-step)];
      return places.map((voltage) =>
        (above.at(voltage) - below.at(voltage)) / (2 * move)
      );
    }),
    stated ? Infinity : law?.degreesOfFreedom,
  );
  if (law !== null) {
    add("current curve between its points", [drawn(points, law, currents)]);
  }
  add("scale of the drive voltage", [
    places.map((voltage, k) => {
      const [a, b] = [Math.max(0, k - 1), Math.min(places.length - 1, k + 1)];
      return voltageScale * voltage * (currents[b]! - currents[a]!) /
        (places[b]! - places[a]!);
    }),
  ]);
  return doubts;
}

/**
 * How far a curve drawn through the law at the points' voltages is off the law, at
 * some currents, in A.
 */
function drawn(
  points: readonly CurrentAtVoltage[],
  law: DiodeLaw,
  currents: readonly number[],
): number[] {
  const known = points.map(({ current }) => current).filter((i) => i > 0);
  const [low, high] = [known[0]!, known.at(-1)!];
  const through = monotoneCubic(known.map(law.voltageAt), known);
  return currents.map((current) =>
    current >= low && current <= high
      ? through.at(law.voltageAt(current)) - current
      : 0
  );
}

/** The law fitted to the points; `null` where they do not allow it. */
function lawOf(points: readonly CurrentAtVoltage[]): DiodeLaw | null {
  const some = points.filter(({ current }) => current > 0);
  if (some.length < 5) return null;
  const fit = fitLinear(
    some.map(({ current }) => [Math.log(current), current, 1]),
    some.map(({ voltage }) => voltage),
  );
  const [a, resistance, c] = fit.parameters.map(({ value }) => value) as [
    number,
    number,
    number,
  ];
  const rises = (current: number) => a / current + resistance;
  if (!some.every(({ current }) => rises(current) > 0)) return null;
  return {
    voltageAt: (current) => a * Math.log(current) + resistance * current + c,
    slopeAt: (current) => current > 0 ? 1 / rises(current) : 0,
    scatter: fit.residualStandardDeviation,
    degreesOfFreedom: fit.degreesOfFreedom,
  };
}
