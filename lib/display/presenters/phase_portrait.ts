import { shownAxis } from "../axis.ts";
import { curve, marks, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";

/** Samples of the fringe for {@linkcode phasePortrait}. */
export interface FringeSamples {
  /** Phase of the target φ0, in rad. */
  readonly phase: readonly number[];
  /** Signal, from -1 to 1 (1). */
  readonly level: readonly number[];
  /** Way: positive receding, negative approaching. */
  readonly way: readonly number[];
}

/** Feedback as it was fitted. */
export interface FittedFeedback {
  readonly feedbackParameter: { readonly value: number };
  readonly linewidthEnhancementFactor: { readonly value: number };
  readonly regime: string;
}

/** φ0 = φF + C sin(φF + arctan α): Lang and Kobayashi 1980. */
export function targetPhase(
  feedbackPhase: number,
  { feedbackParameter, linewidthEnhancementFactor }: FittedFeedback,
): number {
  return feedbackPhase + feedbackParameter.value *
      Math.sin(feedbackPhase + Math.atan(linewidthEnhancementFactor.value));
}

/**
 * The signal against the phase of the target over one fringe, receding and
 * approaching, with the model: upright without feedback, slanted with weak
 * feedback, folded over with two ways through it above C = 1.
 *
 * @param samples Samples of the record.
 * @param feedback C, α and regime.
 * @returns Data and layout for plotly.js.
 */
export function phasePortrait(
  samples: FringeSamples,
  feedback: FittedFeedback,
) {
  const x = shownAxis("Phase of the target, in fringes", [0, 1], "1");
  const y = shownAxis("Signal, of half the fringe's height", [-1.2, 1.2], "1");
  const stride = Math.max(1, Math.ceil(samples.phase.length / 1000));
  const side = (sign: 1 | -1, name: string, colour: string) => {
    const chosen = samples.way.map((_, k) => k).filter((k) =>
      k % stride === 0 && samples.way[k]! * sign > 0
    );
    return chosen.length === 0 ? [] : [marks(
      chosen.map((k) => fraction(samples.phase[k]! / (2 * Math.PI))),
      chosen.map((k) => samples.level[k]!),
      x,
      y,
      { name, colour, size: 3 },
    )];
  };
  const model: [number, number][] = [];
  let before = NaN;
  for (let k = 0; k <= 720; k++) {
    const angle = 2 * Math.PI * k / 720;
    const place = fraction(targetPhase(angle, feedback) / (2 * Math.PI));
    if (Math.abs(place - before) > 0.5) model.push([NaN, NaN]);
    model.push([place, Math.cos(angle)]);
    before = place;
  }
  const c = feedback.feedbackParameter.value.toPrecision(2);
  return stackPanels([{
    y,
    traces: [
      ...side(1, "Receding", colours.blue),
      ...side(-1, "Approaching", colours.green),
      curve(
        model.map(([place]) => place),
        model.map(([, level]) => level),
        x,
        y,
        { name: "Model", colour: colours.vermilion, width: 2 },
      ),
    ],
  }], {
    title: `Phase portrait: C = ${c}, ${feedback.regime} feedback`,
    x,
    axis: { range: [0, 1] },
  });
}

/** The part of a number after the point, from 0 to 1. */
function fraction(value: number): number {
  return value - Math.floor(value);
}
