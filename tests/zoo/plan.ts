import type { Family } from "./bench.ts";

/** A bench to run: family, number, and what to change in what was drawn. */
export interface PlannedBench {
  readonly family: Family;
  readonly number: number;
  /** One thing at a time finds a cause. */
  readonly change?: Readonly<Record<string, unknown>>;
}

// Whole rounds of the draws: 9 courses of motion times 4 classes of C, and 3 of
// noise; 8 kinds of ramp times 4; 4 kinds of speed times 3; 4 spoilt kinds.
const sizes: Readonly<Record<"full" | "quick", Record<Family, number>>> = {
  full: { motion: 108, range: 96, speed: 36, spoilt: 24 },
  quick: { motion: 36, range: 32, speed: 12, spoilt: 8 },
};

/**
 * The benches of a run, the families mixed, so that what is done so far is a fair
 * part of the whole.
 */
export function planned(size: "full" | "quick"): PlannedBench[] {
  return (Object.entries(sizes[size]) as [Family, number][])
    .flatMap(([family, count]) =>
      Array.from({ length: count }, (_, number) => ({
        family,
        number,
        at: (number + 0.5) / count,
      }))
    )
    .toSorted((a, b) => a.at - b.at)
    .map(({ family, number }) => ({ family, number }));
}

/** The benches named, such as "motion-12". */
export function named(
  names: readonly string[],
  change: Readonly<Record<string, unknown>>,
): PlannedBench[] {
  return names.map((name) => {
    const match = /^(motion|range|speed|spoilt)-(\d+)$/.exec(name);
    if (match === null) {
      throw new RangeError(
        `Cannot run the bench '${name}': name a family and a number, such as motion-12`,
      );
    }
    return { family: match[1] as Family, number: Number(match[2]), change };
  });
}
