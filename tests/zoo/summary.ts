import {
  type Outcome,
  outcomes,
  type Verdict,
  type ZooRecord,
} from "./record.ts";

/** Counts of the outcomes of some verdicts. */
export type Counts = Readonly<Record<Outcome, number>>;

/** How one side did on some benches. */
export interface SideSummary {
  readonly benches: number;
  readonly counts: Counts;
  /** Right results that are marked doubtful. */
  readonly rightDoubted: number;
  /** Median and 90th percentile of the error, in fringes (speed: parts of 1 %). */
  readonly medianError: number;
  readonly highError: number;
  /** Median error over the bound, of right results. */
  readonly overBound: number;
  /** CPU time over samples, s per million: median and largest. */
  readonly cpu: number;
  readonly mostCpu: number;
}

/** Both sides on some benches. */
export interface Cell {
  readonly name: string;
  readonly ours: SideSummary;
  readonly scipy: SideSummary;
}

/** Value at a part of the sorted ones, `NaN` of none. */
export function quantile(values: readonly number[], part: number): number {
  if (values.length === 0) return NaN;
  const sorted = values.toSorted((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(part * sorted.length))]!;
}

function summarise(
  records: readonly ZooRecord[],
  side: (record: ZooRecord) => Verdict | null,
): SideSummary {
  const all = records.flatMap((record) => {
    const verdict = side(record);
    return verdict === null ? [] : [{ verdict, samples: record.samples }];
  });
  const right = all.filter(({ verdict }) => verdict.outcome === "right");
  // No result is as far off as any.
  const errors = all.filter(({ verdict }) =>
    verdict.error !== null || verdict.outcome !== "right"
  ).map(({ verdict }) => verdict.error ?? Infinity);
  const cpu = all.map(({ verdict, samples }) => 1e6 * verdict.cpu / samples);
  return {
    benches: all.length,
    counts: Object.fromEntries(
      outcomes.map((outcome) => [
        outcome,
        all.filter(({ verdict }) => verdict.outcome === outcome).length,
      ]),
    ) as Counts,
    rightDoubted:
      right.filter(({ verdict }) => verdict.doubted && verdict.error !== null)
        .length,
    medianError: quantile(errors, 0.5),
    highError: quantile(errors, 0.9),
    overBound: quantile(
      right.flatMap(({ verdict }) => verdict.overBound ?? []),
      0.5,
    ),
    cpu: quantile(cpu, 0.5),
    mostCpu: quantile(cpu, 1),
  };
}

/** Both sides on the benches of each name, in the order of the names. */
export function cellsBy(
  records: readonly ZooRecord[],
  nameOf: (record: ZooRecord) => string,
): Cell[] {
  const groups = Map.groupBy(records, nameOf);
  return [...groups.keys()].toSorted().map((name) => {
    const group = groups.get(name)!;
    return {
      name,
      ours: summarise(group, ({ ours }) => ours),
      scipy: summarise(group, ({ scipy }) => scipy),
    };
  });
}

/** Share of the intervals of a quantity that hold the truth. */
export interface Coverage {
  readonly quantity: string;
  readonly stated: number;
  readonly held: number;
  /** Results without an uncertainty. */
  readonly without: number;
  /** The same of results that are not marked doubtful. */
  readonly sureStated: number;
  readonly sureHeld: number;
  /** Median of u over the error. */
  readonly uOverError: number;
}

/** Coverage of every stated interval, by family and quantity. */
export function coverageOf(records: readonly ZooRecord[]): Coverage[] {
  const rows = records.flatMap((record) =>
    Object.entries(record.intervals).map(([name, interval]) => ({
      quantity: `${record.family}: ${name}`,
      interval,
      sure: !record.ours.doubted,
    }))
  );
  const groups = Map.groupBy(rows, ({ quantity }) => quantity);
  return [...groups].toSorted(([a], [b]) => a < b ? -1 : 1).map(
    ([quantity, group]) => {
      const stated = group.filter(({ interval }) => interval.holds !== null);
      const sure = stated.filter((row) => row.sure);
      const held = (of: typeof group) =>
        of.filter(({ interval }) => interval.holds).length;
      return {
        quantity,
        stated: stated.length,
        held: held(stated),
        without: group.length - stated.length,
        sureStated: sure.length,
        sureHeld: held(sure),
        uOverError: quantile(
          stated.map(({ interval: { u, value, truth } }) =>
            u / Math.abs(value - truth)
          ),
          0.5,
        ),
      };
    },
  );
}

/** How often a warning stands on right and on other results. */
export interface WarningRate {
  readonly code: string;
  readonly onRight: number;
  readonly onWrong: number;
}

/** Rate of every warning that marks a result doubtful. */
export function warningRates(records: readonly ZooRecord[]): {
  right: number;
  wrong: number;
  rates: WarningRate[];
} {
  const results = records.filter(({ ours }) => ours.error !== null);
  const isRight = ({ ours }: ZooRecord) => ours.outcome === "right";
  const codes = new Set(results.flatMap(({ ours }) => ours.warnings));
  const right = results.filter(isRight).length;
  const wrong = results.length - right;
  const rates = [...codes].map((code) => {
    const on = results.filter(({ ours }) => ours.warnings.includes(code));
    const onRight = on.filter(isRight).length;
    return { code, onRight, onWrong: on.length - onRight };
  }).toSorted((a, b) => b.onRight + b.onWrong - a.onRight - a.onWrong);
  return { right, wrong, rates };
}
