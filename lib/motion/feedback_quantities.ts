import { type FeedbackRegime, feedbackRegime } from "../laser/mod.ts";
import { type Quantity, quantity } from "../result/mod.ts";
import type { PhaseFit } from "./phase_fit.ts";

/** Feedback of a diode as it follows from the form of the fringes. */
export interface FeedbackQuantities {
  /** Feedback parameter C (1). */
  readonly feedbackParameter: Quantity;
  /** Linewidth enhancement factor α (1). */
  readonly linewidthEnhancementFactor: Quantity;
  /** Regime that C belongs to. */
  readonly regime: FeedbackRegime;
  /** -1 where the signal falls with the light's power, else 1. */
  readonly polarity: 1 | -1;
  /** Whether the sense of motion follows from the form of the fringes. */
  readonly directionDetermined: boolean;
  /** |C sin ψ| over its standard uncertainty (1). */
  readonly directionSignificance: number;
  /** C cos ψ over its standard uncertainty (1): negative for an inverted signal. */
  readonly polaritySignificance: number;
}

/**
 * C and α of a fit: C = sqrt(p² + q²), α = q/p, with the uncertainties of p and
 * q carried to first order. Where p is not significant, α has no uncertainty to
 * first order and its value is a lower limit.
 */
export function feedbackQuantities(fit: PhaseFit): FeedbackQuantities {
  const { p, q } = fit.parameters;
  const count = fit.free.length;
  const a = fit.free.indexOf(0);
  const b = fit.free.indexOf(1);
  const known = a < 0 || b < 0;
  const pp = known ? 0 : fit.covariance[a * count + a]!;
  const pq = known ? 0 : fit.covariance[a * count + b]!;
  const qq = known ? 0 : fit.covariance[b * count + b]!;
  const c = Math.hypot(p, q);
  const uc = c > 0
    ? Math.sqrt(Math.max(0, p * p * pp + 2 * p * q * pq + q * q * qq)) / c
    : Math.sqrt(Math.max(pp, qq));
  const alpha = Math.abs(q / p);
  const ualpha = Math.sqrt(
    Math.max(0, qq - 2 * (q / p) * pq + (q / p) ** 2 * pp),
  ) / Math.abs(p);
  const directionSignificance = qq > 0 ? Math.abs(q) / Math.sqrt(qq) : Infinity;
  const polaritySignificance = pp > 0
    ? p / Math.sqrt(pp)
    : Math.sign(p) * Infinity;
  return {
    feedbackParameter: quantity(c, uc, "1"),
    linewidthEnhancementFactor: quantity(
      alpha,
      Number.isFinite(ualpha) ? ualpha : NaN,
      "1",
    ),
    regime: feedbackRegime(c),
    polarity: p < 0 ? -1 : 1,
    directionDetermined: directionSignificance > 4,
    directionSignificance,
    polaritySignificance,
  };
}
