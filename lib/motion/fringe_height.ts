import { drawSpline } from "./drawn_spline.ts";
import { splineThrough } from "./spline_through.ts";
import type { FringeParameters } from "./phase_fit.ts";
import { type FringeModel, roundedNoise, tabulated } from "./fringe_model.ts";

/**
 * Course of the fringes' height along a record. Speckle changes the field that
 * comes back by a factor h(t), and the height of the fringes and the feedback are
 * both proportional to it: y = h cos φF and φ0 = φF + h C sin(φF + ψ) - C sin ψ h,
 * in terms of p and q φ0 = φF + h (p sin φF + q cos φF).
 */
export interface HeightSpline {
  /** Samples between knots. */
  readonly spacing: number;
  /** Spline coefficients of h (1). */
  readonly coefficients: Float64Array;
}

/** Height of the fringes over their mean, to which C is proportional. */
export interface FringeHeight {
  /** h of every sample (1). */
  readonly values: Float64Array;
  /** Samples between knots of its spline. */
  readonly spacing: number;
  /** Coefficients of its spline. */
  readonly size: number;
}

/** The spline of a height on other knots; 1 where there is none. */
export function heightSpline(
  height: FringeHeight | null,
  spacing: number,
  sampleCount: number,
): HeightSpline {
  return {
    spacing,
    coefficients: height === null
      ? new Float64Array(Math.ceil(sampleCount / spacing) + 3).fill(1)
      : splineThrough(height.values, spacing),
  };
}

/** Least height: light that comes back cannot vanish from a fit (1). */
const leastHeight = 0.05;

/** The height that a spline gives. */
export function heightOf(
  { spacing, coefficients }: HeightSpline,
  sampleCount: number,
): FringeHeight {
  const values = new Float64Array(sampleCount);
  drawSpline(coefficients, spacing, values);
  for (let i = 0; i < sampleCount; i++) {
    if (values[i]! < leastHeight) values[i] = leastHeight;
  }
  return { values, spacing, size: coefficients.length };
}

/** Standard deviation of a height over its mean (1). */
export function spreadOf(values: Float64Array): number {
  let sum = 0;
  let squares = 0;
  for (const value of values) {
    sum += value;
    squares += value * value;
  }
  const mean = sum / values.length;
  return Math.sqrt(Math.max(0, squares / values.length / mean / mean - 1));
}

/** The parameters for a part of the record. */
export function cutParameters(
  parameters: FringeParameters,
  from: number,
  to: number,
): FringeParameters {
  const { height } = parameters;
  return height === null ? parameters : {
    ...parameters,
    height: { ...height, values: height.values.subarray(from, to) },
  };
}

/** Tables per unit of height; entries between them are exact all the same. */
const perHeight = 40;
/** Entries of each: a step of the first order joins them. */
const entries = 512;

/** Fringes of one p and q at all heights. */
export interface FringeModels {
  /** The tables nearest to a height. */
  at(height: number): { readonly model: FringeModel; readonly height: number };
}

let latest:
  | { p: number; q: number; noise: number; models: FringeModels }
  | null = null;

/** Tabulates fringes as heights are asked for. */
export function fringeModels(
  { p, q }: Pick<FringeParameters, "p" | "q">,
  relativeNoise: number,
): FringeModels {
  const noise = roundedNoise(relativeNoise);
  // The same fringes are asked for again and again while a reading is mended.
  if (latest?.p === p && latest.q === q && latest.noise === noise) {
    return latest.models;
  }
  const models = makeModels(p, q, noise);
  latest = { p, q, noise, models };
  return models;
}

function makeModels(p: number, q: number, noise: number): FringeModels {
  const made: { model: FringeModel; height: number }[] = [];
  return {
    at(height) {
      const k = Math.max(1, Math.round(height * perHeight));
      const h = k / perHeight;
      return made[k] ??= {
        model: tabulated(p * h, q * h, noise / h, entries),
        height: h,
      };
    },
  };
}

/** Entry of a table for φ0 at a height a little off that of the table. */
export function entryAt(
  { p, q }: Pick<FringeParameters, "p" | "q">,
  model: FringeModel,
  apart: number,
  inBranch: number,
): number {
  const { entryOf, reach, perRadian, sine, signal } = model;
  const last = entryOf.length - 1;
  const place = (inBranch + model.shift + reach) * perRadian;
  const near = entryOf[place < 0 ? 0 : place > last ? last : place | 0]!;
  // φ0 of an entry changes with the height by p sin φF + q cos φF.
  const moved = place -
    apart * (p * sine[near]! + q * signal[near]!) * perRadian;
  return entryOf[moved < 0 ? 0 : moved > last ? last : moved | 0]!;
}
