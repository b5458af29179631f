import { describe, expect, it } from "vitest";
import { estimateFeedback } from "fringebook";
import { makeScenario, trialCount, wavelength } from "./scenario.ts";

describe("feedback estimate over many benches", () => {
  it("finds C and α within 3 % at 30 dB in moderate feedback", () => {
    const count = trialCount(60);
    const errors: { c: number; alpha: number; tc: number; ta: number }[] = [];
    for (let seed = 1; seed <= count; seed++) {
      const bench = makeScenario(9000 + seed, {
        signalToNoiseRatio: 30,
        feedbackParameter: 1.2 + 3.3 * ((seed * 0.618) % 1),
        amplitude: 1e-6 * 5 ** ((seed * 0.414) % 1),
        sampleCount: 8000,
      });
      const result = estimateFeedback(bench.capture, { wavelength });
      const off = (value: number | undefined, truth: number) =>
        value === undefined ? NaN : value / truth - 1;
      const { feedbackParameter: c, linewidthEnhancementFactor: a } = bench;
      errors.push({
        c: off(result.feedbackParameter.value, c),
        alpha: off(result.linewidthEnhancementFactor.value, a),
        tc: off(result.timing?.feedbackParameter.value, c),
        ta: off(result.timing?.linewidthEnhancementFactor.value, a),
      });
    }
    const within = (key: "c" | "alpha" | "tc" | "ta") =>
      errors.filter((error) => Math.abs(error[key]) <= 0.03).length;
    const rms = (key: "c" | "alpha" | "tc" | "ta") => {
      const usable = errors.map((e) => e[key]).filter((e) => Math.abs(e) < 0.5);
      return 100 *
        Math.sqrt(usable.reduce((sum, e) => sum + e * e, 0) / usable.length);
    };
    console.log(
      `within 3 % of ${count}: fit C ${within("c")} (rms ${
        rms("c").toFixed(2)
      } %), α ${within("alpha")} (rms ${rms("alpha").toFixed(2)} %); timing C ${
        within("tc")
      } (rms ${rms("tc").toFixed(2)} %), α ${within("ta")} (rms ${
        rms("ta").toFixed(2)
      } %), no timing in ${errors.filter((e) => Number.isNaN(e.tc)).length}`,
    );
    expect(within("c") / count).toBeGreaterThan(0.9);
    expect(within("alpha") / count).toBeGreaterThan(0.9);
  });
});
