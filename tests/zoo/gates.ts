import type { Outcome, ZooRecord } from "./record.ts";

/** What a run of the quick part reached, per family. */
export type Gates = Readonly<Record<string, FamilyGate>>;

/** Counts of one family. */
export interface FamilyGate {
  readonly benches: number;
  readonly right: number;
  readonly confident: number;
  readonly tooSlow: number;
  /** Right results that are marked doubtful. */
  readonly rightDoubted: number;
}

/** Benches that may be stopped at the limit of CPU time where none was before. */
const mostStopped = 2;

/**
 * Holds a run against what was reached. The benches are the same each time and the
 * library draws nothing at random, so that a change of one bench is a change of the
 * library; the time limit alone depends on the machine, and a bench at the limit
 * may go either way: there is room for two.
 */
export function checkGates(
  records: readonly ZooRecord[],
  gates: Gates | null,
): { reached: Gates; lines: string[]; failed: number } {
  const reached: Record<string, FamilyGate> = {};
  for (
    const [family, group] of Map.groupBy(records, ({ family }) => family)
  ) {
    const count = (outcome: Outcome) =>
      group.filter(({ ours }) => ours.outcome === outcome).length;
    reached[family] = {
      benches: group.length,
      right: count("right"),
      confident: count("confident"),
      tooSlow: count("too slow"),
      rightDoubted: group.filter(({ ours }) =>
        ours.outcome === "right" && ours.doubted
      )
        .length,
    };
  }
  const lines: string[] = [];
  let failed = 0;
  for (const [family, gate] of Object.entries(gates ?? {})) {
    const now = reached[family];
    const hold = (what: keyof FamilyGate, holds: (n: number) => boolean) => {
      const value = now?.[what] ?? NaN;
      const ok = holds(value);
      if (!ok) failed++;
      lines.push(
        `${ok ? "ok" : "FAILED"}: ${family}: ${what} ${value}, reached before ${
          gate[what]
        }`,
      );
    };
    hold("benches", (n) => n === gate.benches);
    // One that is stopped where it was not before cannot be right.
    const stopped = (now?.tooSlow ?? 0) - gate.tooSlow;
    const excused = Math.min(mostStopped, Math.max(0, stopped));
    hold("right", (n) => n + excused >= gate.right);
    hold("confident", (n) => n <= gate.confident);
    hold("tooSlow", (n) => n <= gate.tooSlow + mostStopped);
    hold("rightDoubted", (n) => n <= gate.rightDoubted);
  }
  return { reached, lines, failed };
}
