import type { RampCount } from "./count_ramp.ts";
import type { CommonBreak } from "./mode_hop.ts";
import { residualsOf, wholeRuns } from "./residual_scan.ts";
import { median } from "./stroke_selection.ts";

/**
 * Significance from which on a step of the phase counts as a hop where strokes of
 * one direction alone show it (1).
 */
const demanded = 6.5;
/** The same for fringes that jump: what a fit leaves of jumps is not noise. */
const demandedOfJumps = 12;
/** The same where both directions show one at about the same current (1). */
const demandedOfBoth = 4.5;

/**
 * Looks for small steps of the phase in what the fits left: a step δ at x₀ leaves
 * δ dF/dφ H(x - x₀), H being 0 below x₀ and 1 above, less what the fit made up
 * for. It must stand out on all strokes of a direction together, at one current,
 * and on most of them by itself. Finds hops far below a tenth of a turn, and such
 * on too few steps for {@linkcode findPhaseBreak}.
 *
 * @param count The counted strokes.
 * @param course Lagging current in A for a time constant in s; a lag that is left
 * is not taken for a hop.
 * @returns The strongest step of each direction, or `null`.
 */
export function scanForHops(
  count: RampCount,
  course: (timeConstant: number) => Float64Array,
): { up: CommonBreak | null; down: CommonBreak | null } {
  const [none, ...lagging] = [0, 0.01, 0.04, 0.15].map((part) =>
    course(part * count.ramps.strokeDuration)
  );
  const lags = lagging.map((current) =>
    current.map((value, i) => 2 * (value - none![i]!) / count.span)
  );
  const of = (direction: "up" | "down") => {
    const members = count.strokes.flatMap((stroke, i) => {
      const [signal, found] = [count.signals[i], count.counts[i]];
      if (stroke.direction !== direction || !signal || !found) return [];
      if (found.fitted.length !== signal.x.length) return [];
      return [{ signal, found, stroke }];
    });
    if (members.length < 2) return null;
    const steps = members[0]!.found.steps;
    const places = Math.max(16, Math.min(80, Math.ceil(3 * steps)));
    const above = new Float64Array(places);
    const below = new Float64Array(places);
    const signs = Array.from({ length: places }, (): number[] => []);
    for (const { signal, found, stroke } of members) {
      const whole = signal.x.length === stroke.end - stroke.start;
      for (const [from, to] of wholeRuns(found.fitted)) {
        const x = signal.x.slice(from, to);
        const residuals = residualsOf(
          [{
            x,
            y: signal.y.slice(from, to),
            fitted: found.fitted.slice(from, to),
            background: found.background.slice(from, to),
          }],
          3,
          whole
            ? lags.map((lag) =>
              lag.slice(stroke.start + from, stroke.start + to)
            )
            : [],
        );
        if (residuals === null) continue;
        const tried = residuals.stepsAt(
          Array.from(
            { length: places },
            (_, k) => -0.9 + 1.8 * (k + 0.5) / places,
          ),
        );
        for (let k = 0; k < places; k++) {
          const { part, size, raw } = tried[k]!;
          if (!(size > 1e-6 * raw)) continue;
          above[k]! += part;
          below[k]! += size;
          signs[k]!.push(part / Math.sqrt(size));
        }
      }
    }
    let best = -1;
    let most = 0;
    for (let k = 0; k < places; k++) {
      const z = Math.abs(above[k]!) / Math.sqrt(below[k]!);
      if (z > most) [best, most] = [k, z];
    }
    if (best < 0 || most < demandedOfBoth) return null;
    const sign = Math.sign(above[best]!);
    const agree = signs[best]!.filter((z) => sign * z > 1).length;
    if (agree < 0.7 * members.length) return null;
    // A step of x is one of the phase by πN.
    const turned = above[best]! / below[best]! * Math.PI * steps;
    return {
      significance: most,
      found: {
        x: -0.9 + 1.8 * (best + 0.5) / places,
        spread: 0.5 * 1.8 / places,
        phase: Math.atan2(Math.sin(turned), Math.cos(turned)),
        strokes: agree,
      },
    };
  };
  const [up, down] = [of("up"), of("down")];
  // The diode hops back at a lower current than up, by not much.
  const near = (upper: number, lower: number) =>
    upper - lower > -0.1 && upper - lower < 0.3;
  const both = up !== null && down !== null &&
    up.found.phase * down.found.phase > 0 && near(up.found.x, down.found.x);
  const { hops } = count;
  const feedback = median(
    count.counts.flatMap((c) => c?.model ? [c.model.feedbackParameter] : []),
  );
  const alone = feedback > 1 ? demandedOfJumps : demanded;
  const enough = (one: typeof up, known: boolean) =>
    one !== null &&
      one.significance >= (both || known ? demandedOfBoth : alone)
      ? one.found
      : null;
  return {
    up: enough(
      up,
      up !== null && hops.down.some(({ x }) => near(up.found.x, x)),
    ),
    down: enough(
      down,
      down !== null && hops.up.some(({ x }) => near(x, down.found.x)),
    ),
  };
}
