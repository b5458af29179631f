import { requireFields } from "../options/mod.ts";
import { requireSamplingRate } from "./samples.ts";

/** One second-order section, a0 = 1: y = b0 x + b1 x₁ + b2 x₂ − a1 y₁ − a2 y₂. */
export interface FilterSection {
  /** Coefficient of the sample itself (1). */
  readonly b0: number;
  /** Coefficient of the sample before (1). */
  readonly b1: number;
  /** Coefficient of the second sample before (1). */
  readonly b2: number;
  /** Coefficient of the output before (1). */
  readonly a1: number;
  /** Coefficient of the second output before (1). */
  readonly a2: number;
}

/** Which frequencies a filter lets through. */
export type FilterBand =
  | { readonly pass: "low" | "high"; readonly cutoff: number }
  | { readonly pass: "band"; readonly low: number; readonly high: number };

interface Complex {
  readonly re: number;
  readonly im: number;
}

/**
 * Designs a digital Butterworth filter as second-order sections: analogue
 * prototype, band transformation, bilinear transformation with the edge
 * frequencies prewarped (Oppenheim and Schafer, Discrete-Time Signal
 * Processing, ch. 7). Gain at the edges is −3 dB for one pass.
 *
 * @param order Order n of the prototype, 1 to 12; a band-pass has order 2 n.
 * @param band Edge frequencies in Hz, between 0 and half the sampling rate.
 * @param samplingRate Samples per second, in Hz.
 * @returns The sections, each of unit gain in the pass-band.
 * @throws {RangeError} If an edge or the order is out of range.
 *
 * @example
 * ```ts
 * import { butterworthSections } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const [section] = butterworthSections(2, { pass: "low", cutoff: 250 }, 1000);
 * // Published in many textbooks: a2 = (2 − √2) / (2 + √2)
 * expect(section!.a2).toBeCloseTo(0.171572875, 8);
 * ```
 */
export function butterworthSections(
  order: number,
  band: FilterBand,
  samplingRate: number,
): FilterSection[] {
  requireFields(band, "band", ["pass"], "design a filter");
  requireSamplingRate(samplingRate, "design a filter");
  if (!Number.isInteger(order) || order < 1 || order > 12) {
    throw new RangeError(
      `Cannot design a filter as 'order' must be an integer from 1 to 12: current value is ${order}`,
    );
  }
  const edges = band.pass === "band" ? [band.low, band.high] : [band.cutoff];
  for (const edge of edges) {
    if (!(edge > 0 && edge < samplingRate / 2)) {
      throw new RangeError(
        `Cannot design a filter as its edge must lie between 0 and half the sampling rate, ${
          samplingRate / 2
        } Hz: current value is ${edge} Hz`,
      );
    }
  }
  if (band.pass === "band" && !(band.low < band.high)) {
    throw new RangeError(
      `Cannot design a filter as 'low' must be below 'high': current values are ${band.low} Hz and ${band.high} Hz`,
    );
  }
  // Analogue edge in units of 2 × sampling rate.
  const warp = (f: number) => Math.tan(Math.PI * f / samplingRate);
  const poles = prototypePoles(order);
  if (band.pass === "band") {
    const low = warp(band.low), high = warp(band.high);
    return bandSections(poles, low * high, high - low);
  }
  const edge = warp(band.cutoff);
  return poles.map((pole) => {
    const analogue = band.pass === "low"
      ? scale(pole, edge)
      : divide({ re: edge, im: 0 }, pole);
    const sign = band.pass === "low" ? 1 : -1;
    return section(bilinear(analogue), pole.im === 0, sign);
  });
}

/** Upper-half (and real) poles of the prototype of unit edge frequency. */
function prototypePoles(order: number): Complex[] {
  const poles: Complex[] = [];
  for (let k = 0; 2 * k < order; k++) {
    const angle = Math.PI * (2 * k + order + 1) / (2 * order);
    const real = 2 * k + 1 === order;
    poles.push({ re: Math.cos(angle), im: real ? 0 : Math.sin(angle) });
  }
  return poles;
}

/** Low-pass (zeros at −1, sign +1) or high-pass (zeros at +1, sign −1). */
function section(pole: Complex, single: boolean, sign: number): FilterSection {
  if (single) {
    const a1 = -pole.re;
    const gain = (1 + sign * a1) / 2;
    return { b0: gain, b1: sign * gain, b2: 0, a1, a2: 0 };
  }
  const a1 = -2 * pole.re;
  const a2 = pole.re * pole.re + pole.im * pole.im;
  const gain = (1 + sign * a1 + a2) / 4;
  return { b0: gain, b1: sign * 2 * gain, b2: gain, a1, a2 };
}

/** Band-pass: each prototype pole p gives the roots of s² − p B s + Ω² = 0. */
function bandSections(
  poles: readonly Complex[],
  centreSquared: number,
  width: number,
): FilterSection[] {
  const sections: FilterSection[] = [];
  for (const pole of poles) {
    const half = scale(pole, width / 2);
    const root = squareRoot({
      re: half.re * half.re - half.im * half.im - centreSquared,
      im: 2 * half.re * half.im,
    });
    const first = { re: half.re + root.re, im: half.im + root.im };
    const second = { re: half.re - root.re, im: half.im - root.im };
    if (pole.im === 0) {
      sections.push(bandSection(bilinear(first), bilinear(second)));
    } else {
      for (const analogue of [first, second]) {
        const z = bilinear(analogue);
        sections.push(bandSection(z, { re: z.re, im: -z.im }));
      }
    }
  }
  return sections.map((one) => normalised(one, Math.sqrt(centreSquared)));
}

function bandSection(p: Complex, q: Complex): FilterSection {
  const a1 = -(p.re + q.re);
  const a2 = p.re * q.re - p.im * q.im;
  return { b0: 1, b1: 0, b2: -1, a1, a2 };
}

/** Unit gain at the analogue frequency `warped` (units of 2 × sampling rate). */
function normalised(one: FilterSection, warped: number): FilterSection {
  const angle = 2 * Math.atan(warped);
  const gain = 1 / sectionGain(one, angle);
  return { ...one, b0: one.b0 * gain, b1: one.b1 * gain, b2: one.b2 * gain };
}

/** |H| of a section at an angle in rad per sample. */
export function sectionGain(one: FilterSection, angle: number): number {
  const c1 = Math.cos(angle), s1 = Math.sin(angle);
  const c2 = Math.cos(2 * angle), s2 = Math.sin(2 * angle);
  return Math.hypot(
    one.b0 + one.b1 * c1 + one.b2 * c2,
    one.b1 * s1 + one.b2 * s2,
  ) / Math.hypot(
    1 + one.a1 * c1 + one.a2 * c2,
    one.a1 * s1 + one.a2 * s2,
  );
}

/** z = (1 + s) / (1 − s), s in units of 2 × sampling rate. */
function bilinear(s: Complex): Complex {
  return divide({ re: 1 + s.re, im: s.im }, { re: 1 - s.re, im: -s.im });
}

function scale(a: Complex, factor: number): Complex {
  return { re: a.re * factor, im: a.im * factor };
}

function divide(a: Complex, b: Complex): Complex {
  const norm = b.re * b.re + b.im * b.im;
  return {
    re: (a.re * b.re + a.im * b.im) / norm,
    im: (a.im * b.re - a.re * b.im) / norm,
  };
}

function squareRoot(a: Complex): Complex {
  const modulus = Math.hypot(a.re, a.im);
  const re = Math.sqrt(Math.max(0, (modulus + a.re) / 2));
  const im = Math.sqrt(Math.max(0, (modulus - a.re) / 2));
  return { re, im: a.im < 0 ? -im : im };
}
