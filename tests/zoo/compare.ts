import { outcomes, type ZooRecord } from "./record.ts";
import type { Table } from "./cell_table.ts";

/** What of a record is compared. */
export type Compared = Pick<ZooRecord, "name" | "motion" | "draw" | "ours">;

/** What a change made better and worse, on the benches that both runs hold. */
export interface Comparison {
  /** Benches in both runs. */
  readonly paired: number;
  /** Right now and not before, and the other way round. */
  readonly gained: readonly Compared[];
  readonly lost: readonly Compared[];
  /** Confident-wrong before and not now, and the other way round. */
  readonly calmed: number;
  readonly alarmed: number;
  /** Smaller and larger error, of benches right in both runs. */
  readonly closer: number;
  readonly further: number;
  /** Median of error now over error before. */
  readonly errorRatio: number;
  /** Median of CPU time now over CPU time before. */
  readonly cpuRatio: number;
}

/**
 * Probability that of n paired differences that are as likely up as down so many
 * or more go one way: sign test, two-sided, exact; the same as McNemar's exact test
 * (McNemar 1947) on right and not right.
 */
export function signTest(up: number, down: number): number {
  const n = up + down;
  if (n === 0) return 1;
  let term = 0.5 ** Math.min(n, 1000);
  if (n > 1000) {
    // Normal approximation with continuity: the exact term underflows.
    const z = (Math.abs(up - down) - 1) / Math.sqrt(n);
    return Math.min(1, 2 * upperTail(z));
  }
  let tail = 0;
  for (let k = 0; k <= Math.min(up, down); k++) {
    tail += term;
    term *= (n - k) / (k + 1);
  }
  return Math.min(1, 2 * tail);
}

/** P(Z > z) of a standard normal, z ≥ 0: Abramowitz & Stegun 7.1.26. */
function upperTail(z: number): number {
  const x = Math.max(0, z) / Math.SQRT2;
  const t = 1 / (1 + 0.3275911 * x);
  return 0.5 * Math.exp(-x * x) * t *
    (0.254829592 + t * (-0.284496736 + t * (1.421413741 +
              t * (-1.453152027 + t * 1.061405429))));
}

/** Compares two runs bench by bench. */
export function compareRuns(
  now: readonly Compared[],
  before: readonly Compared[],
): Comparison {
  const earlier = new Map(before.map((record) => [record.name, record]));
  const pairs = now.flatMap((record) => {
    const was = earlier.get(record.name);
    return was === undefined ? [] : [{ record, was }];
  });
  const is = (record: Compared, outcome: string) =>
    record.ours.outcome === outcome;
  const turned = (outcome: string, to: boolean) =>
    pairs.filter(({ record, was }) =>
      is(record, outcome) === to && is(was, outcome) !== to
    ).map(({ record }) => record);
  const both = pairs.filter(({ record, was }) =>
    is(record, "right") && is(was, "right") && record.ours.error !== null &&
    was.ours.error !== null
  );
  const ratios = both.map(({ record, was }) =>
    record.ours.error! / was.ours.error!
  );
  return {
    paired: pairs.length,
    gained: turned("right", true),
    lost: turned("right", false),
    calmed: turned("confident", false).length,
    alarmed: turned("confident", true).length,
    // A thousandth apart is the same.
    closer: ratios.filter((r) => r < 0.999).length,
    further: ratios.filter((r) => r > 1.001).length,
    errorRatio: median(ratios),
    cpuRatio: median(
      pairs.map(({ record, was }) => record.ours.cpu / was.ours.cpu),
    ),
  };
}

function median(values: readonly number[]): number {
  const sorted = values.filter(Number.isFinite).toSorted((a, b) => a - b);
  return sorted.length === 0 ? NaN : sorted[sorted.length >> 1]!;
}

/** The comparison as a table with the chance that each line is noise. */
export function comparisonTable(
  now: readonly Compared[],
  before: readonly Compared[],
): Table {
  const c = compareRuns(now, before);
  const chance = (up: number, down: number) => {
    const p = signTest(up, down);
    return p > 0.995 ? "1" : p.toPrecision(2);
  };
  const count = (records: readonly Compared[], outcome: string) =>
    records.filter(({ ours }) => ours.outcome === outcome).length;
  const earlier = new Set(now.map(({ name }) => name));
  const was = before.filter(({ name }) => earlier.has(name));
  const is = now.filter(({ name }) => before.some((b) => b.name === name));
  return {
    title: `Against the earlier run, ${c.paired} benches in both`,
    heads: ["", "better", "worse", "chance of noise", "before", "now"],
    rows: [
      [
        "right",
        `${c.gained.length}`,
        `${c.lost.length}`,
        chance(c.gained.length, c.lost.length),
        `${count(was, "right")}`,
        `${count(is, "right")}`,
      ],
      [
        "not confident and wrong",
        `${c.calmed}`,
        `${c.alarmed}`,
        chance(c.calmed, c.alarmed),
        `${count(was, "confident")} confident`,
        `${count(is, "confident")} confident`,
      ],
      [
        "error of those right in both",
        `${c.closer}`,
        `${c.further}`,
        chance(c.closer, c.further),
        "1",
        c.errorRatio.toPrecision(3),
      ],
      ["CPU time (median ratio)", "", "", "", "1", c.cpuRatio.toPrecision(3)],
      ...outcomes.filter((o) => o !== "right" && o !== "confident").map((o) => [
        o,
        "",
        "",
        "",
        `${count(was, o)}`,
        `${count(is, o)}`,
      ]),
      ...c.gained.map((r) => [`+ ${describe(r)}`, "", "", "", "", ""]),
      ...c.lost.map((r) => [
        `- ${describe(r)}: ${r.ours.outcome}`,
        "",
        "",
        "",
        "",
        "",
      ]),
    ],
  };
}

/** A bench in a few words. */
export function describe({ name, motion, draw }: Compared): string {
  return `${name}: ${motion}, C ${draw.feedbackParameter?.toFixed(2)}, ${
    draw.snr?.toFixed(0)
  } dB`;
}
