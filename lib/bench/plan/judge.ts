import { inDigits } from "../../result/mod.ts";
import type { PlanFigures } from "./plan_measurement.ts";

/** Whether one measurement can be done. */
export interface PlanVerdict {
  /** Which measurement. */
  readonly measurement:
    | "count fringes"
    | "vibration within a fringe"
    | "Doppler speed"
    | "distance from a ramp";
  /** Whether it can be done. */
  readonly feasible: "yes" | "with care" | "no";
  /** What limits it, in two words or three. */
  readonly limitedBy: string;
  /** Why, with the numbers, and what to change. */
  readonly reason: string;
}

/** What the verdicts depend on; `NaN` where not asked for. */
export interface JudgeInput extends PlanFigures {
  readonly vibrationRate: number;
  readonly dopplerFrequency: number;
  readonly stepRate: number;
  readonly motion: { amplitude: number; frequency: number } | null;
  readonly samplesPerFringe: number;
  readonly harmonics: number;
  readonly distance: number;
  readonly samplingRate: number;
  readonly bandwidth: number;
  readonly couplingCorner: number;
  readonly signalToNoiseRatio: number;
  readonly feedbackParameter: number;
}

type Finding = Omit<PlanVerdict, "measurement">;

/** Judges every measurement that the input asks for. */
export function judge(input: JudgeInput): PlanVerdict[] {
  const verdicts: PlanVerdict[] = [];
  if (input.motion !== null) {
    verdicts.push({
      measurement: "count fringes",
      ...worst([
        ...chain(input, input.vibrationRate),
        ...always(input),
        ...direction(input),
        ...atLeastOneFringe(input, input.motion.amplitude),
      ]),
    }, {
      measurement: "vibration within a fringe",
      ...worst([
        ...chain(input, input.vibrationRate),
        ...always(input),
        ...aboveNoise(input, input.motion.amplitude),
      ]),
    });
  }
  if (!Number.isNaN(input.dopplerFrequency)) {
    verdicts.push({
      measurement: "Doppler speed",
      // A line in the spectrum needs no edges: the rounded fringe's rules.
      ...worst([
        ...chain(
          { ...input, samplesPerFringe: 2.5, harmonics: 1 },
          input.dopplerFrequency,
        ),
        ...always({
          ...input,
          signalToNoiseRatio: input.signalToNoiseRatio + 15,
        }),
      ]),
    });
  }
  if (!Number.isNaN(input.stepRate)) {
    verdicts.push({
      measurement: "distance from a ramp",
      ...worst([
        ...chain(input, input.stepRate),
        ...always(input),
        ...enoughSteps(input),
        ...stillEnough(input),
      ]),
    });
  }
  return verdicts;
}

function worst(findings: readonly Finding[]): Finding {
  return findings.find(({ feasible }) => feasible === "no") ??
    findings.find(({ feasible }) => feasible === "with care") ?? {
    feasible: "yes",
    limitedBy: "nothing here",
    reason: "Sampling, bandwidth, noise and coherence leave room",
  };
}

/** Sampling, bandwidth and coupling against a fringe rate. */
function chain(input: JudgeInput, rate: number): Finding[] {
  const { samplingRate, bandwidth, couplingCorner } = input;
  const findings: Finding[] = [];
  const needed = input.samplesPerFringe * rate;
  if (samplingRate < 2 * rate) {
    findings.push({
      feasible: "no",
      limitedBy: "sampling rate",
      reason: `Fringes at ${show(rate)} Hz fold back at ${
        show(samplingRate)
      } samples per second: take at least ${
        show(needed)
      }, or make the target slower`,
    });
  } else if (samplingRate < needed) {
    findings.push({
      feasible: "with care",
      limitedBy: "sampling rate",
      reason: `${show(samplingRate / rate)} samples for each fringe: better ${
        show(needed)
      } samples per second`,
    });
  }
  if (bandwidth < rate) {
    findings.push({
      feasible: "no",
      limitedBy: "bandwidth",
      reason: `The amplifier ends at ${show(bandwidth)} Hz, below the ${
        show(rate)
      } Hz of the fringes: take a smaller feedback resistor`,
    });
  } else if (bandwidth < input.harmonics * rate) {
    findings.push({
      feasible: "with care",
      limitedBy: "bandwidth",
      reason: `The amplifier ends at ${show(bandwidth)} Hz; edges need ${
        show(input.harmonics * rate)
      } Hz`,
    });
  }
  if (rate < couplingCorner) {
    findings.push({
      feasible: "with care",
      limitedBy: "coupling capacitor",
      reason: `Fringes at ${show(rate)} Hz droop below the corner at ${
        show(couplingCorner)
      } Hz: take a larger capacitor`,
    });
  }
  return findings;
}

/** Coherence and noise. */
function always(input: JudgeInput): Finding[] {
  const { distance, coherenceLimit, signalToNoiseRatio } = input;
  const findings: Finding[] = [];
  if (distance > coherenceLimit) {
    findings.push({
      feasible: "no",
      limitedBy: "coherence",
      reason: `${show(distance)} m is beyond the coherence limit of ${
        show(coherenceLimit)
      } m: come nearer`,
    });
  } else if (distance > coherenceLimit / 3) {
    findings.push({
      feasible: "with care",
      limitedBy: "coherence",
      reason: `${show(distance)} m is near the coherence limit of ${
        show(coherenceLimit)
      } m: expect jitter`,
    });
  }
  if (signalToNoiseRatio < 6) {
    findings.push({
      feasible: "no",
      limitedBy: "noise",
      reason: `A fringe is ${
        show(signalToNoiseRatio)
      } dB above the noise: look for more returning light`,
    });
  } else if (signalToNoiseRatio < 15) {
    findings.push({
      feasible: "with care",
      limitedBy: "noise",
      reason: `A fringe is ${
        show(signalToNoiseRatio)
      } dB above the noise: single fringes may be missed`,
    });
  }
  return findings;
}

function direction(input: JudgeInput): Finding[] {
  const { feedbackParameter } = input;
  if (feedbackParameter < 0.1) {
    return [{
      feasible: "with care",
      limitedBy: "weak feedback",
      reason: `C = ${
        show(feedbackParameter)
      }: the fringes do not show the direction`,
    }];
  }
  if (feedbackParameter > 4.6) {
    return [{
      feasible: "with care",
      limitedBy: "strong feedback",
      reason: `C = ${
        show(feedbackParameter)
      }: fringes get lost at each turn; put in a filter`,
    }];
  }
  return [];
}

function atLeastOneFringe(input: JudgeInput, amplitude: number): Finding[] {
  const fringes = input.vibrationRate / (Math.PI * input.motion!.frequency);
  if (fringes >= 2) return [];
  return [{
    feasible: fringes < 1 ? "no" : "with care",
    limitedBy: "small motion",
    reason: `An amplitude of ${show(amplitude)} m makes ${
      show(fringes)
    } fringes from turn to turn: measure within the fringe instead`,
  }];
}

function aboveNoise(input: JudgeInput, amplitude: number): Finding[] {
  if (amplitude > 10 * input.smallestMotion) return [];
  return [{
    feasible: amplitude < input.smallestMotion ? "no" : "with care",
    limitedBy: "noise",
    reason: `An amplitude of ${show(amplitude)} m against ${
      show(input.smallestMotion)
    } m of noise in one sample: average over many periods`,
  }];
}

function enoughSteps(input: JudgeInput): Finding[] {
  const { stepsPerRamp, leastDistance } = input;
  if (stepsPerRamp >= 10) return [];
  return [{
    feasible: stepsPerRamp < 3 ? "no" : "with care",
    limitedBy: "few steps",
    reason: `${show(stepsPerRamp)} steps on a ramp; from ${
      show(leastDistance)
    } m on there are three. Widen the ramp or go farther away`,
  }];
}

function stillEnough(input: JudgeInput): Finding[] {
  const { vibrationRate, dopplerFrequency, stepRate } = input;
  const moving = Math.max(
    Number.isNaN(vibrationRate) ? 0 : vibrationRate,
    Number.isNaN(dopplerFrequency) ? 0 : dopplerFrequency,
  );
  if (moving < 0.02 * stepRate) return [];
  return [{
    feasible: moving > stepRate ? "no" : "with care",
    limitedBy: "moving target",
    reason: moving > stepRate
      ? `The target makes ${show(moving)} fringes per second, more than the ${
        show(stepRate)
      } steps of the ramp: ramp faster or hold it still`
      : `The target makes ${show(moving)} fringes per second beside ${
        show(stepRate)
      } steps: average rising and falling ramps`,
  }];
}

function show(value: number): string {
  return inDigits(value, 3);
}
