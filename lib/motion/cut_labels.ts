import type { PhaseLabels } from "./phase_labels.ts";

/** The labels of a part of the record. */
export function cutLabels(
  labels: PhaseLabels,
  from: number,
  to: number,
): PhaseLabels {
  let firstBranch = labels.firstBranch;
  for (const jump of labels.jumps) {
    if (jump.last <= from) firstBranch += jump.sign;
  }
  const shift = <T extends { first: number; last: number }>(item: T): T => ({
    ...item,
    first: item.first - from,
    last: item.last - from,
  });
  return {
    pieces: labels.pieces
      .filter(({ first, last }) => last >= from && first < to)
      .map(shift)
      .map((piece) => ({
        ...piece,
        first: Math.max(0, piece.first),
        last: Math.min(to - from - 1, piece.last),
      })),
    jumps: labels.jumps
      .filter(({ first, last }) => last > from && first < to)
      .map(shift),
    trusted: labels.trusted,
    mayFold: labels.mayFold,
    firstBranch,
  };
}
