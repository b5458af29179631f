import { fitNonlinear } from "fringebook/fit";
import { describe, expect, it } from "vitest";
import { matchingDigits, nistModels, readNist } from "./nist_strd.ts";

describe("fitNonlinear() on the NIST StRD sets", () => {
  for (const [name, model] of Object.entries(nistModels)) {
    const problem = readNist(name);
    for (const [s, start] of problem.starts.entries()) {
      it(`agrees with ${name} from start ${s + 1}`, () => {
        const fit = fitNonlinear(model, problem.x, problem.y, start, {});
        const value = Math.min(
          ...fit.parameters.map((b, j) =>
            matchingDigits(b.value, problem.certified[j]!)
          ),
        );
        const deviation = Math.min(
          ...fit.parameters.map((b, j) =>
            matchingDigits(
              b.standardUncertainty,
              problem.standardDeviations[j]!,
            )
          ),
        );
        expect(fit.converged).toBe(true);
        // NIST certifies 11 digits; 6 agree where derivatives are numerical.
        expect(value).toBeGreaterThan(6);
        expect(deviation).toBeGreaterThan(4);
        expect(matchingDigits(fit.chiSquare, problem.residualSumOfSquares))
          .toBeGreaterThan(6);
      });
    }
  }
});
