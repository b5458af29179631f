import { type BandSource, cutBaseband } from "../signal/mod.ts";

/** Which way the surface moves along the beam. */
export type Direction = "receding" | "approaching" | "not determined";

/** What the saw-tooth form of the fringes says about the direction. */
export interface DirectionEvidence {
  readonly direction: Direction;
  /** Mean of the imaginary part of the bicoherence (1), from −1 to 1. */
  readonly asymmetry: number;
  /** How far it is from 0, in standard deviations (1). */
  readonly significance: number;
}

const blocks = 16;

/**
 * Direction from the saw-tooth form of the fringes: the phase between the line
 * and its second harmonic. With weak feedback the signal is
 * cos φ0 − (C/2) cos(2 φ0 + ψ) + const, tan ψ = α, so the imaginary part of
 * ⟨X(f)² X*(2f)⟩ has the sign of + sin ψ where φ0 rises (receding) and the other
 * sign where it falls (Donati, Giuliani, Merlo 1995, IEEE JQE 31, 113 (from memory); the
 * second-harmonic form is the first order in C of their eq. for the phase).
 *
 * @param source The transformed record.
 * @param frequency The line, in Hz.
 * @param width Its full width at half maximum, in Hz.
 * @param polarity 1 where more light gives more signal, −1 where it gives less.
 * @returns Direction, or "not determined" below four standard deviations.
 */
export function directionFromHarmonic(
  source: BandSource,
  frequency: number,
  width: number,
  polarity: 1 | -1,
): DirectionEvidence {
  const duration = source.sampleCount / source.samplingRate;
  const nyquist = source.samplingRate / 2;
  const halfWidth = Math.max(3 * width, 32 / duration);
  const none: DirectionEvidence = {
    direction: "not determined",
    asymmetry: 0,
    significance: 0,
  };
  if (
    2 * frequency + 1.1 * halfWidth > nyquist || frequency < 1.1 * halfWidth
  ) return none;
  const bin = source.samplingRate / source.spectrum.length;
  const centre = Math.round(frequency / bin) * bin;
  const first = cutBaseband(source, centre, halfWidth);
  const second = cutBaseband(source, 2 * centre, halfWidth);
  const parts: number[] = [];
  let powerFirst = 0, powerSecond = 0;
  const count = first.real.length;
  for (let b = 0; b < blocks; b++) {
    let im = 0;
    const from = Math.floor(count * b / blocks);
    const to = Math.floor(count * (b + 1) / blocks);
    for (let m = from; m < to; m++) {
      const ar = first.real[m]!, ai = first.imaginary[m]!;
      const br = second.real[m]!, bi = second.imaginary[m]!;
      const squareR = ar * ar - ai * ai, squareI = 2 * ar * ai;
      im += squareI * br - squareR * bi;
      powerFirst += (ar * ar + ai * ai) ** 2;
      powerSecond += br * br + bi * bi;
    }
    parts.push(im);
  }
  const sum = parts.reduce((a, b) => a + b, 0);
  const spread = Math.sqrt(
    parts.reduce((a, b) => a + (b - sum / blocks) ** 2, 0) *
      blocks / (blocks - 1),
  );
  const scale = Math.sqrt(powerFirst * powerSecond);
  if (!(scale > 0)) return none;
  const asymmetry = polarity * sum / scale;
  const significance = Math.abs(sum) / (spread + 1e-12 * scale);
  const sure = significance > 4 && Math.abs(asymmetry) > 0.02;
  return {
    direction: !sure
      ? "not determined"
      : asymmetry > 0
      ? "receding"
      : "approaching",
    asymmetry,
    significance,
  };
}
