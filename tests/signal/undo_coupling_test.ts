import { describe, expect, it } from "vitest";
import { simulateCapture } from "fringebook";
import { undoCoupling } from "fringebook/signal";

describe("undoCoupling", () => {
  it("makes a drooped square wave level again, closed form of a CR circuit", () => {
    // y(t) = ± 2 e^(-t/τ)/(1 + e^(-T/2τ)), τ = 1/(2π f_c): the periodic
    // response of a CR high-pass to ± 1 (common practice, no source).
    const samplingRate = 50e3;
    const corner = 4;
    const half = 2500;
    const decay = Math.exp(-2 * Math.PI * corner / samplingRate);
    const start = 2 / (1 + decay ** half);
    const drooped = Float64Array.from({ length: 8 * half }, (_, i) => {
      const sign = Math.floor(i / half) % 2 === 0 ? 1 : -1;
      return sign * start * decay ** (i % half);
    });
    const level = undoCoupling(drooped, corner, { samplingRate });
    for (const [i, value] of level.entries()) {
      // The edge itself lies between two samples: half of the jump times πf_c/f_s
      const expected = start - (Math.floor(i / half) % 2 === 0 ? 0 : 2);
      expect(Math.abs(value - expected)).toBeLessThan(0.005);
    }
  });
  it("undoes the coupling of a simulated amplifier to a thousandth of a fringe", () => {
    const capture = (couplingCorner: number | null) =>
      simulateCapture({
        distance: (time) => 0.1 + 2e-6 * Math.sin(2 * Math.PI * 20 * time),
        samplingRate: 96e3,
        duration: 0.4,
        frontEnd: { couplingCorner },
        drive: null,
      }).channels[0]!.samples;
    const direct = capture(null);
    const back = undoCoupling(capture(2), 2, { samplingRate: 96e3 });
    const swing = Math.max(...direct) - Math.min(...direct);
    let low = Infinity;
    let high = -Infinity;
    for (const [i, value] of back.entries()) {
      low = Math.min(low, value - direct[i]!);
      high = Math.max(high, value - direct[i]!);
    }
    expect((high - low) / swing).toBeLessThan(1e-3);
  });
  it("refuses a corner of zero", () => {
    expect(() => undoCoupling([1, 2], 0, { samplingRate: 1 })).toThrow(
      "'corner' must be a positive number",
    );
  });
});
