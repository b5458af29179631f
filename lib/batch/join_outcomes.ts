import type { FileOutcome } from "./file_outcome.ts";

/** A capture of which two files hold other results. */
export interface BatchConflict {
  /** The capture. */
  readonly file: string;
  /** Names of the two files; that of the second counts. */
  readonly in: readonly [string, string];
  /** What differs: names of settings, `"the capture"` or `"the results"`. */
  readonly differs: readonly string[];
}

/**
 * Joins the outcomes of several files: each capture once. A measured outcome
 * counts before a failed one; of two measured ones that of the later file.
 *
 * @param parts Name and outcomes of each file.
 * @returns The outcomes in order of first appearance, and what contradicts.
 */
export function joinOutcomes(
  parts: readonly {
    readonly fileName: string;
    readonly outcomes: ReadonlyMap<string, FileOutcome>;
  }[],
): { readonly outcomes: FileOutcome[]; readonly conflicts: BatchConflict[] } {
  const joined = new Map<string, { outcome: FileOutcome; fileName: string }>();
  const conflicts: BatchConflict[] = [];
  for (const { fileName, outcomes } of parts) {
    for (const [file, outcome] of outcomes) {
      const before = joined.get(file);
      if (
        outcome.status === "failed" && before?.outcome.status === "measured"
      ) {
        continue;
      }
      if (before?.outcome.status === "measured") {
        const differs = differences(before.outcome, outcome);
        if (differs.length > 0) {
          conflicts.push({ file, in: [before.fileName, fileName], differs });
        }
      }
      joined.set(file, { outcome, fileName });
    }
  }
  return {
    outcomes: [...joined.values()].map(({ outcome }) => outcome),
    conflicts,
  };
}

/** What differs between two outcomes of one capture; empty: they are alike. */
function differences(before: FileOutcome, after: FileOutcome): string[] {
  const other = (a: unknown, b: unknown) =>
    JSON.stringify(a ?? null) !== JSON.stringify(b ?? null);
  const [one, two] = [before.settings ?? {}, after.settings ?? {}];
  const names = new Set([...Object.keys(one), ...Object.keys(two)]);
  const settings = [...names].filter((name) => other(one[name], two[name]));
  if (settings.length > 0) return settings;
  if (other(before.source, after.source)) return ["the capture"];
  return other(before.reports, after.reports) ? ["the results"] : [];
}
