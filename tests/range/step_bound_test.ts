import { stepBound } from "fringebook/range";
import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";

describe("stepBound()", () => {
  it("for a cosine on a known level is the variance of a frequency", () => {
    // Rife & Boorstyn 1974: var(N) = 12 / ((2π)² n SNR) over the part in use.
    const options = { steps: 20, samples: 2000, relativeNoise: 0.05 };
    const bound = stepBound({
      ...options,
      part: 1,
      known: [
        "level",
        "slope of the power",
        "bend of the power",
        "feedback parameter",
      ],
    });
    const ratio = 1 / (2 * 0.05 ** 2);
    const closed = Math.sqrt(12 / ((2 * Math.PI) ** 2 * 2000 * ratio));
    // The samples are at both ends too: (n² - 1) for n², and 20 whole periods.
    expect(Math.abs(bound.standardUncertainty / closed - 1)).toBeLessThan(2e-3);
    expect(Math.abs(bound.cosine / closed - 1)).toBeLessThan(1e-9);
  });

  it("is reached by least squares on a case that is linear enough", () => {
    // A cosine (C = 0) of 6.3 steps on an unknown power ramp: Gauss–Newton with
    // all eight parameters free, 600 seeded records.
    const [n, noise, steps] = [200, 0.05, 6.3];
    const random = createRandom(2026);
    const x = Array.from({ length: n }, (_, i) => -1 + 2 * i / (n - 1));
    const errors: number[] = [];
    for (let k = 0; k < 600; k++) {
      const y = x.map((v) =>
        3 + 2 * v + 0.4 * v * v + Math.cos(1 - Math.PI * steps * v) +
        noise * random.normal()
      );
      let found = steps;
      for (let round = 0; round < 3; round++) {
        // y = b₀ + b₁x + b₂x² + A cos + B sin + δN dF/dN, linear in all.
        const [a, b] = lastAmplitudes(x, y, found);
        const rows = x.map((v) => {
          const t = -Math.PI * found * v;
          const slope = b * Math.cos(t) - a * Math.sin(t);
          return [1, v, v * v, Math.cos(t), Math.sin(t), -Math.PI * v * slope];
        });
        found += leastSquares(rows, y)[5]!;
      }
      errors.push(found - steps);
    }
    const rms = Math.sqrt(errors.reduce((s, e) => s + e * e, 0) / 600);
    const bound = stepBound({
      steps,
      samples: n,
      relativeNoise: noise,
      part: 1,
      phase: 1 - Math.atan(5),
      known: ["feedback parameter"],
    }).standardUncertainty;
    // The rms of 600 normal errors is itself known to 3 %.
    expect(rms / bound).toBeGreaterThan(0.91);
    expect(rms / bound).toBeLessThan(1.09);
  });

  it("its derivatives are those of the excess-phase equation", () => {
    // J by differences of the model itself at C = 0.7, four parameters unknown.
    const c = 0.7;
    const theta = Math.atan(5);
    const [n, part, steps, noise] = [400, 0.96, 5.2, 0.02];
    const solve = (t: number, c: number) => {
      let z = t;
      for (let k = 0; k < 60; k++) {
        z -= (z + c * Math.sin(z) - t) / (1 + c * Math.cos(z));
      }
      return z;
    };
    const model = ([N, t0, c, a]: number[]) =>
      Array.from({ length: n }, (_, i) => {
        const x = part * (2 * i / (n - 1) - 1);
        const t = t0! + theta - Math.PI * N! * x;
        return a! * Math.cos(solve(t, c!) - theta);
      });
    const at = [steps, 0.4, c, 1];
    const columns = at.map((_, j) => {
      const h = 1e-5;
      const up = model(at.map((v, k) => k === j ? v + h : v));
      const down = model(at.map((v, k) => k === j ? v - h : v));
      return up.map((v, i) => (v - down[i]!) / (2 * h) / noise);
    });
    const rows = columns[0]!.map((_, i) => columns.map((col) => col[i]!));
    const expected = Math.sqrt(inverseOf(rows)[0]![0]!);
    const bound = stepBound({
      steps,
      samples: n,
      relativeNoise: noise,
      feedbackParameter: c,
      phase: 0.4,
      part,
      known: [
        "level",
        "slope of the power",
        "bend of the power",
        "linewidth enhancement factor",
      ],
    });
    expect(bound.standardUncertainty / expected).toBeCloseTo(1, 5);
  });

  it("knowledge lowers it, a free tuning raises it, jumps lower it", () => {
    const options = {
      steps: 1.6,
      samples: 500,
      strokes: 2,
      relativeNoise: 0.02,
      feedbackParameter: 0.5,
    };
    const u = (more: object) =>
      stepBound({ ...options, ...more }).standardUncertainty;
    expect(u({ known: ["bend of the power"] })).toBeLessThan(u({}));
    expect(u({ powerBend: 0.01 })).toBeLessThan(u({}));
    expect(u({ phaseOrder: 3 })).toBeGreaterThan(u({}));
    const saw = { steps: 12.3, feedbackParameter: 2.5 };
    expect(u({ ...saw, jumps: "between samples" })).toBeLessThan(u(saw));
    expect(u({ ...saw, jumps: { bandwidth: 0.2 } }))
      .toBeLessThan(u({ ...saw, jumps: "between samples" }));
    expect(stepBound({ ...options, ...saw }).jumps).toBeGreaterThan(20);
  });

  it("refuses numbers that make no sense", () => {
    const options = { steps: 5, samples: 100, relativeNoise: 0.02 };
    expect(() => stepBound({ ...options, steps: 0 })).toThrow("'steps'");
    expect(() => stepBound({ ...options, samples: 3.5 })).toThrow("'samples'");
    expect(() => stepBound({ ...options, relativeNoise: 0 }))
      .toThrow("'relativeNoise'");
  });
});

/** Normal equations by Gauss–Jordan: small and independent of the library. */
function inverseOf(rows: readonly (readonly number[])[]): number[][] {
  const p = rows[0]!.length;
  const m = Array.from({ length: p }, (_, j) => [
    ...Array.from(
      { length: p },
      (_, k) => rows.reduce((s, r) => s + r[j]! * r[k]!, 0),
    ),
    ...Array.from({ length: p }, (_, k) => j === k ? 1 : 0),
  ]);
  for (let j = 0; j < p; j++) {
    const pivot = m[j]![j]!;
    m[j] = m[j]!.map((v) => v / pivot);
    for (let i = 0; i < p; i++) {
      if (i === j) continue;
      const factor = m[i]![j]!;
      m[i] = m[i]!.map((v, k) => v - factor * m[j]![k]!);
    }
  }
  return m.map((row) => row.slice(p));
}

function leastSquares(
  rows: readonly (readonly number[])[],
  y: readonly number[],
): number[] {
  const right = rows[0]!.map((_, j) =>
    rows.reduce((s, r, i) => s + r[j]! * y[i]!, 0)
  );
  return inverseOf(rows).map((row) =>
    row.reduce((s, v, k) => s + v * right[k]!, 0)
  );
}

function lastAmplitudes(
  x: readonly number[],
  y: readonly number[],
  steps: number,
): [number, number] {
  const rows = x.map((v) => {
    const t = -Math.PI * steps * v;
    return [1, v, v * v, Math.cos(t), Math.sin(t)];
  });
  const found = leastSquares(rows, y);
  return [found[3]!, found[4]!];
}
