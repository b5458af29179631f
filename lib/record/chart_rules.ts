/** A rule of a control chart. */
export type ChartRule =
  | "beyond limit"
  | "two of three"
  | "four of five"
  | "eight in a row"
  | "jump";

/** A rule that was broken, at the point that broke it. */
export interface ChartSignal {
  /** Place of the point in order of time, from 0. */
  readonly index: number;
  /** The rule. */
  readonly rule: ChartRule;
}

/** The rules as a person reads them. */
export const ruleInWords: Readonly<Record<ChartRule, string>> = {
  "beyond limit": "a point lies beyond 3 deviations",
  "two of three": "two of three points lie beyond 2 deviations on one side",
  "four of five": "four of five points lie beyond 1 deviation on one side",
  "eight in a row": "eight points in a row lie on one side of the centre",
  "jump": "a step from one point to the next is beyond its limit",
};

const zones = [
  { rule: "beyond limit", of: 1, need: 1, beyond: 3 },
  { rule: "two of three", of: 3, need: 2, beyond: 2 },
  { rule: "four of five", of: 5, need: 4, beyond: 1 },
  { rule: "eight in a row", of: 8, need: 8, beyond: 0 },
] as const;

/**
 * The points at which the four rules of Western Electric are broken (NIST
 * handbook, 6.3.2): each rule tells once as long as it goes on, and the point at
 * hand must itself lie in the zone.
 */
export function chartSignals(
  values: readonly number[],
  centre: number,
  deviation: number,
): ChartSignal[] {
  const scores = values.map((value) => (value - centre) / deviation);
  const signals: ChartSignal[] = [];
  for (const { rule, of, need, beyond } of zones) {
    let last = -Infinity;
    for (let k = 0; k < scores.length; k++) {
      const own = scores[k]!;
      const side = own > 0 ? 1 : -1;
      if (!(side * own > beyond)) continue;
      let there = 0;
      for (let i = Math.max(0, k - of + 1); i <= k; i++) {
        if (side * scores[i]! > beyond) there++;
      }
      if (there < need) continue;
      if (k - last > of || rule === "beyond limit") {
        signals.push({ index: k, rule });
      }
      last = k;
    }
  }
  return signals;
}
