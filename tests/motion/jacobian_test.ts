import { describe, expect, it } from "vitest";
import { basisTable } from "../../lib/motion/cubic_spline.ts";
import { fringeModel } from "../../lib/motion/fringe_model.ts";
import type { FringeParameters } from "../../lib/motion/phase_fit.ts";
import {
  accumulatePhase,
  makeSystem,
  phaseAt,
} from "../../lib/motion/phase_system.ts";
import { bisectedPhase } from "../laser/bisected_phase.ts";

const spacing = 10;

/** The model of one sample, by bisection: middle and amplitude over amplitude. */
function modelOf(
  coefficients: Float64Array,
  sample: number,
  { p, q, middle, amplitude }: FringeParameters,
): number {
  const c = Math.hypot(p, q);
  const shift = Math.atan2(q, p);
  const phase = phaseAt(coefficients, spacing, sample);
  const branch = Math.round((phase + shift) / (2 * Math.PI));
  return middle +
    amplitude * Math.cos(bisectedPhase(phase, c, shift, branch));
}

describe("the normal equations of the phase", () => {
  for (const c of [0.2, 0.7, 0.9]) {
    it(`hold the derivatives by spline, p, q, middle and amplitude at C = ${c}`, () => {
      const shift = Math.atan(4);
      const parameters: FringeParameters = {
        p: c * Math.cos(shift),
        q: c * Math.sin(shift),
        middle: 0.3,
        amplitude: 1,
        height: null,
      };
      const model = fringeModel(parameters.p, parameters.q, 0.01);
      const coefficients = Float64Array.from(
        { length: 8 },
        (_, k) => 1.3 * k + 0.4 * Math.sin(2 * k),
      );
      for (const sample of [3, 11, 17, 24, 38]) {
        // One sample alone: the matrix is w v vᵀ, v its derivatives.
        const signal = new Float64Array(50).fill(NaN);
        signal[sample] = modelOf(coefficients, sample, parameters);
        const system = makeSystem(coefficients.length);
        accumulatePhase(
          system,
          signal,
          spacing,
          basisTable(spacing),
          coefficients,
          parameters,
          model,
          0.01,
          {
            pieces: [],
            jumps: [],
            trusted: { low: -1, high: 1 },
            mayFold: false,
            firstBranch: 0,
          },
          Infinity,
          true,
        );
        const derivative = (
          change: (h: number) => readonly [Float64Array, FringeParameters],
        ) => {
          const h = 1e-5;
          return (modelOf(...withSample(change(h), sample)) -
            modelOf(...withSample(change(-h), sample))) / (2 * h);
        };
        const byParameter = (["p", "q", "middle", "amplitude"] as const).map((
          name,
        ) =>
          derivative((h) => [
            coefficients,
            { ...parameters, [name]: parameters[name] + h },
          ])
        );
        // The middle's own derivative is 1: it tells the weight.
        const weight = system.corner[2 * 4 + 2]!;
        expect(weight).toBeGreaterThan(0);
        const k = Math.floor(sample / spacing);
        for (let a = 0; a < 4; a++) {
          const byCoefficient = derivative((h) => [
            coefficients.map((value, m) => m === k + a ? value + h : value),
            parameters,
          ]);
          byParameter.forEach((value, m) => {
            const held = system.border[m * system.size + k + a]! / weight;
            // The table's cell is 3e-3 rad wide, and slopes change within it by up
            // to (1 − C)⁻² per rad.
            expect(Math.abs(held - value * byCoefficient)).toBeLessThan(
              5e-3 * (1 + Math.abs(value * byCoefficient)) / (1 - c) ** 2,
            );
          });
        }
        byParameter.forEach((value, m) => {
          const held = system.corner[m * 4 + 2]! / weight;
          expect(Math.abs(held - value)).toBeLessThan(5e-3 / (1 - c) ** 2);
        });
      }
    });
  }
});

function withSample(
  [coefficients, parameters]: readonly [Float64Array, FringeParameters],
  sample: number,
): [Float64Array, number, FringeParameters] {
  return [coefficients, sample, parameters];
}
