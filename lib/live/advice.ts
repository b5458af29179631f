import { humDrowns, type LiveReading } from "./meter.ts";
import type { LiveSafety } from "./live_safety.ts";

/** What the signal looks like, in order of what is to be seen to first. */
export type LiveState =
  | "no signal"
  | "clipped"
  | "aliased"
  | "mains hum"
  | "too strong"
  | "no fringes"
  | "weak"
  | "good";

/** What the person is told. */
export interface Advice {
  /** What the signal looks like. */
  readonly state: LiveState;
  /** What to do next, in one or two sentences. */
  readonly hint: string;
}

/** How the fringes went. */
export interface Trend {
  /** Height now over the best so far (1). */
  readonly part: number;
  /** Which way they went within the last second. */
  readonly direction: "stronger" | "weaker" | "steady";
}

/** SNR from which fringes are good to measure, in dB (common practice, no source). */
export const goodSignalToNoise = 15;
/** SNR below which there are no fringes at all, in dB. */
const leastSignalToNoise = 0;
/** C from which fringes are lost (1): Donati 2012. */
const strongFeedback = 4.6;
/**
 * Contrast that only strong feedback has (1) (common practice, no source); it is
 * known where the signal is coupled with DC, and keeps to one side of zero.
 */
const strongContrast = 0.1;

/**
 * Says what the signal looks like and what to turn next. Nobody is told to turn up
 * the current unless it is known to be below the rated one.
 *
 * @param reading What the meter shows.
 * @param trend How the fringes went.
 * @param safety What is known of the current; `null` for nothing.
 * @returns State and hint.
 */
export function advise(
  reading: LiveReading,
  trend: Trend,
  safety: LiveSafety | null,
): Advice {
  const state = stateOf(reading);
  const over = safety?.isOver
    ? "The current is above what the diode is rated for: turn it down now. "
    : "";
  const hint = over + hintOf(state, reading, trend, safety);
  return { state, hint: hint + humBeside(state, reading) };
}

function stateOf(reading: LiveReading): LiveState {
  const { clippedAt, signalToNoise, warnings } = reading;
  const has = (code: string) => warnings.some((one) => one.code === code);
  if (clippedAt !== null || has("saturated")) return "clipped";
  if (has("flat") || reading.high === reading.low) return "no signal";
  if (has("aliased") || has("near-nyquist")) return "aliased";
  const { hum, fringes } = reading;
  if (hum !== null && humDrowns(fringes, hum.amplitude)) return "mains hum";
  if (
    reading.feedbackParameter > strongFeedback ||
    reading.contrast > strongContrast && signalToNoise > goodSignalToNoise
  ) return "too strong";
  if (!(signalToNoise > leastSignalToNoise)) return "no fringes";
  if (signalToNoise < goodSignalToNoise) return "weak";
  return Number.isFinite(reading.fringeRate) ? "good" : "weak";
}

function hintOf(
  state: LiveState,
  reading: LiveReading,
  { part, direction }: Trend,
  safety: LiveSafety | null,
): string {
  switch (state) {
    case "no signal":
      return "The signal does not move at all: is the diode on, the amplifier powered, the right channel recorded?";
    case "clipped":
      return `The signal stands at the ${
        reading.clippedAt === null ? "end" : inWords[reading.clippedAt]
      } of the range: turn the gain down by a third, or choose a larger range. Less current does it too.`;
    case "aliased":
      return "Fringes come too fast for the sampling rate: move the target by less or slower, or sample faster.";
    case "too strong":
      return "Too much light comes back, and fringes are lost: take a duller surface, such as a white card, or put a filter in the beam. A lens out of its best place does it too, if you have neither.";
    case "mains hum":
      return `Hum of ${
        reading.hum!.frequency
      } Hz is more than half as high as the fringes: lamps off. Where it stays with a card in the beam, it comes by cable and ground: shield them. And turn the lens the way that makes the bar grow, until the fringes stand above it.`;
    case "no fringes":
      return reading.driven
        ? "No fringes on the ramp: turn the lens slowly through its range, and look whether the beam meets the target."
        : "No fringes: does the target move, or the current ramp? If so, turn the lens slowly through its range, and look whether the beam meets the target.";
    case "weak":
      return direction === "stronger"
        ? "It gets stronger: go on turning this way."
        : direction === "weaker" || part < 0.8
        ? "It was stronger before: turn back, slowly."
        : `Weak: turn the lens on, the way that makes the bar grow.${
          brighter(safety)
        }`;
    case "good":
      return direction === "stronger"
        ? "Good, and it still gets stronger: go on."
        : part < 0.8
        ? "Good; it was stronger before: turn back a little, or take the capture now."
        : "Good: take the capture.";
  }
}

/** Hum that is there, and leaves the fringes to be seen. */
function humBeside(state: LiveState, { hum }: LiveReading): string {
  return hum === null || state === "mains hum" || state === "clipped"
    ? ""
    : ` Hum of ${hum.frequency} Hz is in it: lamps off, shield, ground.`;
}

const inWords = {
  "top": "top",
  "bottom": "bottom",
  "both ends": "top and the bottom",
} as const;

/** What else makes more light, as far as it is safe. */
function brighter(safety: LiveSafety | null): string {
  const surface =
    " If the bar grows no more: a brighter surface or a nearer target";
  if (safety === null || !Number.isFinite(safety.current)) {
    return `${surface}.`;
  }
  const { mayRise, current, ratedCurrent, laserClass, ratedClass } = safety;
  const rated = milliamperes(ratedCurrent);
  if (mayRise) {
    return `${surface}; or turn up the current, to no more than the rated ${rated}.`;
  }
  return laserClass !== ratedClass && current < ratedCurrent
    ? `${surface}. More current would make it class ${ratedClass}: do not raise it without your laser safety officer.`
    : `${surface}. The current stands at its rated ${rated}: do not raise it.`;
}

/** A current as it stands on a diode's sheet. */
export function milliamperes(current: number): string {
  return `${Number((1000 * current).toPrecision(4))} mA`;
}
