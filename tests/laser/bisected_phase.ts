/**
 * φF on the branch around φF = 2πm − arctan α by halving an interval 60 times: a
 * root finder of the tests, to check those of the library against.
 *
 * @param phase φ0, in rad; must lie on that branch.
 * @param c Feedback parameter C (1).
 * @param shift arctan α, in rad.
 * @param branch The branch m.
 * @returns φF, in rad, to rounding.
 */
export function bisectedPhase(
  phase: number,
  c: number,
  shift: number,
  branch = 0,
): number {
  const fold = c > 1 ? Math.acos(-1 / c) : Math.PI;
  let [low, high] = [-fold, fold];
  const target = phase + shift - 2 * Math.PI * branch;
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    // Rises all along the branch: dφ0/dφF = 1 + C cos x is not negative there.
    if (middle + c * Math.sin(middle) < target) low = middle;
    else high = middle;
  }
  return (low + high) / 2 - shift + 2 * Math.PI * branch;
}
