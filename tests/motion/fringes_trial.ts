import { describe, expect, it } from "vitest";
import { countFringes } from "fringebook";
import { makeScenario, trialCount, wavelength } from "./scenario.ts";

/** Steep sides of the true signal, with sign. */
function trueFringes(
  phase: Float64Array,
  c: number,
  alpha: number,
  jumps: { indices: Int32Array; branches: Int32Array },
): { place: number; sign: number }[] {
  if (c > 1) {
    return Array.from(
      jumps.indices,
      (index, k) => ({ place: index, sign: Math.sign(jumps.branches[k]!) }),
    );
  }
  const reference = Math.PI / 2 + c * Math.cos(Math.atan(alpha));
  const turn = 2 * Math.PI;
  const fringes: { place: number; sign: number }[] = [];
  for (let i = 1; i < phase.length; i++) {
    const a = Math.floor((phase[i - 1]! - reference) / turn);
    const b = Math.floor((phase[i]! - reference) / turn);
    if (a !== b) fringes.push({ place: i, sign: b > a ? 1 : -1 });
  }
  return fringes;
}

describe("fringes over many benches", () => {
  it("finds 99.9 % of the fringes with their sign at 20 dB and more", () => {
    let total = 0;
    let found = 0;
    let extra = 0;
    let refused = 0;
    let confident = 0;
    const count = trialCount(80);
    for (let seed = 1; seed <= count; seed++) {
      const bench = makeScenario(5000 + seed, {
        signalToNoiseRatio: 20 + 30 * ((seed * 0.618) % 1),
      });
      const { capture, feedbackParameter, linewidthEnhancementFactor } = bench;
      const { phase, jumpIndices, jumpBranches } = capture.truth;
      const truth = trueFringes(
        phase,
        feedbackParameter,
        linewidthEnhancementFactor,
        { indices: jumpIndices, branches: jumpBranches },
      );
      const result = countFringes(capture, { wavelength });
      if (!result.directionDetermined) {
        refused++;
        continue;
      }
      const seen = Array.from(result.times, (time, k) => ({
        place: time * capture.samplingRate,
        sign: result.signs[k]!,
        used: false,
      }));
      let missed = 0;
      for (const fringe of truth) {
        const match = seen.find((other) =>
          !other.used && other.sign === fringe.sign &&
          Math.abs(other.place - fringe.place) < 8
        );
        if (match === undefined) missed++;
        else match.used = true;
      }
      total += truth.length;
      found += truth.length - missed;
      const more = seen.filter(({ used }) => !used).length;
      extra += more;
      if (missed + more > 0) {
        const doubtful = result.warnings.some((w) => w.severity === "doubtful");
        if (!doubtful) confident++;
        console.log(
          `seed ${seed}: C ${feedbackParameter.toFixed(3)}, ${
            (bench.amplitude * 1e6).toFixed(2)
          } µm: missed ${missed}, extra ${more} of ${truth.length}, warnings ${
            result.warnings.map((w) => w.code).join(" ")
          }`,
        );
      }
    }
    console.log(
      `fringes: ${found} of ${total} (${
        (100 * found / total).toFixed(3)
      } %) found with sign, ${extra} extra; direction not determined in ${refused} of ${count}; records with errors and no warning: ${confident}`,
    );
    expect(found / total).toBeGreaterThan(0.99);
  });
});
