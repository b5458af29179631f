import { describe, expect, it } from "vitest";
import { type Displacement, measureDisplacement } from "fringebook";
import { conditionSignal } from "fringebook/motion";
import { plainCapture, plainWavelength } from "../doors/plain_bench.ts";

/** Half of the fringes' height on this bench, over the mean power (1). */
const visibility = 0.01;

/** Mains hum with its second harmonic, over the mean power (1). */
const hum = (height: number, frequency: number) => (time: number) =>
  height * visibility *
  (Math.sin(2 * Math.PI * frequency * time + 0.4) +
    0.3 * Math.sin(4 * Math.PI * frequency * time));

const swing = (amplitude: number, frequency: number) => (time: number) =>
  amplitude * Math.sin(2 * Math.PI * frequency * time);

/** Largest error of a displacement beside the way, means taken off, in fringes. */
function worstError(
  { displacement, samplingRate }: Displacement,
  way: (time: number) => number,
): number {
  const errors = Array.from(
    displacement,
    (value, i) => (value - way(i / samplingRate)) / (plainWavelength / 2),
  );
  const mean = errors.reduce((sum, error) => sum + error, 0) / errors.length;
  return Math.max(...errors.map((error) => Math.abs(error - mean)));
}

describe("hum under the fringes", () => {
  it("is found though nobody said so, and the motion is read through it", () => {
    const way = swing(2.2e-6, 160);
    const measured = (height: number) =>
      measureDisplacement(
        plainCapture({
          way,
          samplingRate: 100e3,
          duration: 0.09,
          feedback: 0.35,
          visibility,
          decibels: 26,
          stray: hum(height, 60),
        }),
        { wavelength: plainWavelength },
      );
    const found = measured(0.35);
    const quiet = measured(0);
    expect(found.warnings.map(({ code }) => code)).toContain("hum-taken-off");
    expect(found.directionDetermined).toBe(true);
    // A tenth of a fringe; without the hum taken off it is whole fringes.
    expect(worstError(found, way)).toBeLessThan(0.1);
    // Both are 0.02 low by the amplifier's pole; the hum adds nothing.
    expect(
      Math.abs(found.feedbackParameter.value - quiet.feedbackParameter.value),
    ).toBeLessThan(found.feedbackParameter.standardUncertainty);
  });
  it("is told from fringes that pass as fast as the mains", () => {
    // Up to 130 fringes per second, so that the mains lies among them.
    const way = swing(0.85e-6, 8);
    const capture = plainCapture({
      way,
      samplingRate: 6e3,
      duration: 0.9,
      feedback: 0.2,
      visibility,
      decibels: 30,
      stray: hum(0.05, 50),
    });
    const found = measureDisplacement(capture, {
      wavelength: plainWavelength,
      mainsFrequency: 50,
    });
    expect(worstError(found, way)).toBeLessThan(0.1);
  });
  it("is not taken from a motion near the frequency of the mains", () => {
    const capture = plainCapture({
      way: swing(3e-6, 55.7),
      samplingRate: 25e3,
      duration: 0.25,
      feedback: 2,
      visibility,
      decibels: 20,
    });
    const { warnings } = conditionSignal(capture);
    expect(warnings.map(({ code }) => code)).not.toContain("hum-taken-off");
  });
});

describe("a coupling capacitor that was not stated", () => {
  // Strokes of 2.6 fringes that rest for a while at their ends, so that the levels
  // behind the capacitor follow them.
  const way = (time: number) => {
    const angle = 2 * Math.PI * 9 * time;
    return 0.85e-6 * Math.sin(angle + 0.5 * Math.sin(angle));
  };
  const behind = (coupling: number) =>
    plainCapture({
      way,
      samplingRate: 6e3,
      duration: 1.5,
      feedback: 0.25,
      visibility,
      decibels: 32,
      coupling,
    });

  it("is found in the levels of the fringes and undone", () => {
    const capture = behind(0.8);
    const { warnings, diagnostics } = conditionSignal(capture);
    expect(warnings.map(({ code }) => code)).toContain("coupling-found");
    // Middles of some 250 swings tell it to some percent.
    expect(diagnostics.couplingCorner! / 0.8).toBeGreaterThan(0.85);
    expect(diagnostics.couplingCorner! / 0.8).toBeLessThan(1.15);
    const found = measureDisplacement(capture, { wavelength: plainWavelength });
    expect(worstError(found, way)).toBeLessThan(0.1);
  });
  it("is not seen in light that has its level", () => {
    const { diagnostics } = conditionSignal(behind(0));
    expect(diagnostics.couplingCorner).toBe(null);
  });
});
