import { costOf, type GuessParameters } from "./guess_model.ts";
import type { TypicalStroke } from "./typical_stroke.ts";

/** A guess with what it leaves, in the square of the signal's unit. */
export interface CostedGuess extends GuessParameters {
  readonly cost: number;
}

/** Goes downhill along one parameter after another, by steps that shrink. */
export function refineGuess(
  members: readonly TypicalStroke[],
  start: GuessParameters,
  noise: number,
  rounds: number,
): CostedGuess {
  let best = { ...start, cost: costOf(members, start, noise) };
  const steps: Record<keyof GuessParameters, number> = {
    c: 0.15,
    steps: 0.12,
    offset: 0.25,
    turns: start.turns === 0 ? 0 : 0.04,
    up: start.turns === 0 ? 0 : 0.035,
    down: start.turns === 0 ? 0 : 0.035,
    lag: 0.02,
  };
  const names = Object.keys(steps) as (keyof GuessParameters)[];
  for (let round = 0; round < rounds; round++) {
    const before = best.cost;
    for (const name of names) {
      if (steps[name] === 0) continue;
      let moved = false;
      for (const sign of [1, -1]) {
        const value = best[name] + sign * steps[name];
        if ((name === "c" && value < 0) || (name === "steps" && value < 0.5)) {
          continue;
        }
        const next = { ...best, [name]: value };
        const cost = costOf(members, next, noise);
        if (cost < best.cost) {
          best = { ...next, cost };
          steps[name] *= 1.4 * sign;
          moved = true;
          break;
        }
      }
      if (!moved) steps[name] *= 0.6;
    }
    if (round > 4 && before - best.cost < 1e-3 * best.cost) break;
  }
  return best;
}
