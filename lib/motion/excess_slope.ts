/** Samples closer to a fold than this do not count. */
const leastDerivative = 0.05;

/**
 * Slope of the fringe, d cos φF / dφ0 = -sin φF / (1 + C cos(φF + arctan α)), in
 * 1/rad; 0 where φF is about to jump.
 *
 * @param feedbackPhase φF, in rad.
 * @param feedbackParameter C (1).
 * @param linewidthEnhancementFactor α (1).
 */
export function excessSlope(
  feedbackPhase: number,
  feedbackParameter: number,
  linewidthEnhancementFactor: number,
): number {
  const derivative = 1 +
    feedbackParameter *
      Math.cos(feedbackPhase + Math.atan(linewidthEnhancementFactor));
  return derivative < leastDerivative
    ? 0
    : -Math.sin(feedbackPhase) / derivative;
}
