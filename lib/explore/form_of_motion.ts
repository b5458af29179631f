import { NotMeasurableError } from "../errors/mod.ts";
import {
  type Displacement,
  measureRingDown,
  measureVibration,
  measureWaveform,
  type RingDown,
  type Vibration,
  type Waveform,
} from "../motion/mod.ts";
import type { Shown } from "../result/mod.ts";
import { detrend } from "../signal/mod.ts";

/** The form of a motion, or why it has none that can be headlined. */
export interface FormOfMotion {
  readonly form: ((RingDown | Vibration | Waveform) & Shown) | null;
  /** `null` where there is a form. */
  readonly reason: string | null;
  /** When the target was let go after a rest, in s; `null` where it was not. */
  readonly release: number | null;
  /** Whether it looks like a ring-down that no decay describes. */
  readonly contradicts: boolean;
}

/** Parts of the record whose swings are compared. */
const parts = 12;
/** Swing of the end over the largest, where it dies away. */
const dying = 0.5;
/** Part of the peak-to-peak value that a target at rest stays within. */
const rest = 0.02;
/** Part of the record that must be left after the release. */
const leastTail = 0.15;
/** How many standard uncertainties the damping must be above 0. */
const sureDamping = 3;

/**
 * The motion as a ring-down where its swings die away after they were largest,
 * else as a vibration, else as a waveform that comes back, else as several
 * ring-downs. None where the fit is refused or gives no uncertainty (a
 * square drive, a steady motion, less than a period), with the reason.
 *
 * @param displacement The displacement.
 * @returns The form or the reason.
 */
export function formOfMotion(displacement: Displacement): FormOfMotion {
  const reasons: string[] = [];
  const dies = diesAway(displacement);
  const attempts = dies
    ? [ringDownOf, vibrationOf, waveformOf]
    : [vibrationOf, waveformOf, ringDownsOf];
  for (const attempt of attempts) {
    try {
      const found = attempt(displacement);
      if (typeof found !== "string") {
        return {
          form: found,
          reason: null,
          release: dies ? releaseOf(displacement) : null,
          contradicts: false,
        };
      }
      reasons.push(found);
    } catch (error) {
      if (!(error instanceof NotMeasurableError)) throw error;
      reasons.push(error.message);
    }
  }
  return {
    form: null,
    reason: reasons[0]!,
    release: null,
    contradicts: dies,
  };
}

function ringDownOf(displacement: Displacement) {
  const start = releaseOf(displacement);
  const found = measureRingDown(displacement, { start });
  const { naturalFrequency, dampingRatio } = found;
  return naturalFrequency.standardUncertainty > 0 &&
      dampingRatio.value > sureDamping * dampingRatio.standardUncertainty
    ? found
    : "The swings die away, but no decaying oscillation describes them with an uncertainty: look at the displacement";
}

function vibrationOf(displacement: Displacement) {
  const found = measureVibration(displacement);
  const isSure = found.amplitude.standardUncertainty > 0 &&
    !found.warnings.some(({ code }) =>
      code === "not-periodic" || code === "not-determined"
    );
  return isSure
    ? found
    : `The motion is no sum of ${
      Number.isFinite(found.frequency.value)
        ? `harmonics of ${found.frequency.value.toPrecision(3)} Hz`
        : "few harmonics"
    }, so no amplitude and frequency is given: look at the displacement`;
}

/** Several decays, none of them at the end of the record alone. */
function ringDownsOf(displacement: Displacement) {
  const found = measureRingDown(displacement);
  const { decays, dampingRatio } = found;
  return decays.length > 1 &&
      dampingRatio.value > sureDamping * dampingRatio.standardUncertainty
    ? found
    : "The motion does not die away again and again";
}

/** Fewest periods whose mean says that they are periods. */
const leastPeriods = 4;

function waveformOf(displacement: Displacement) {
  const found = measureWaveform(displacement);
  const { diagnostics: { periods, periodsLeftOut }, warnings } = found;
  const isSure = periods - periodsLeftOut >= leastPeriods &&
    !warnings.some(({ code }) =>
      code === "not-periodic" || code === "periods-left-out"
    );
  return isSure ? found : "The motion does not come back with a period";
}

/** Whether the swings are largest early and small towards the end. */
function diesAway(displacement: Displacement): boolean {
  const n = displacement.displacement.length;
  const swings = Array.from({ length: parts }, (_, k) =>
    spread(
      displacement,
      Math.floor(k * n / parts),
      Math.floor((k + 1) * n / parts),
    ));
  const largest = Math.max(...swings.filter(Number.isFinite));
  const peak = swings.indexOf(largest);
  const after = swings.slice(peak + 1);
  const end = after.slice(Math.floor(after.length * 2 / 3));
  return end.length > 0 && end.every((swing) => !(swing > dying * largest)) &&
    strokesDie(displacement);
}

/** Fewest strokes whose heights say something. */
const fewestStrokes = 3;

/**
 * Whether the last third of the strokes is low against the highest: the parts of a
 * record of few periods may hold straight strokes alone, which have no spread.
 */
function strokesDie(
  { displacement, turningPoints, samplingRate }: Displacement,
): boolean {
  const places = Array.from(
    turningPoints,
    (time) => displacement[Math.round(time * samplingRate)] ?? NaN,
  );
  const heights = places.slice(1).map((place, k) =>
    Math.abs(place - places[k]!)
  );
  if (heights.length < fewestStrokes) return true;
  const highest = heights.reduce((a, b) => b > a ? b : a, 0);
  return heights.slice(-Math.ceil(heights.length / 3))
    .every((height) => !(height > dying * highest));
}

/** When a target that rests at first is let go, in s; `null` where it moves. */
function releaseOf(
  { displacement, samplingRate, peakToPeak }: Displacement,
): number | null {
  const limit = rest * peakToPeak.value;
  const first = displacement.find(Number.isFinite) ?? NaN;
  const moved = displacement.findIndex((x) => Math.abs(x - first) > limit);
  const n = displacement.length;
  const rested = moved > n / parts / 2 && moved < (1 - leastTail) * n;
  return rested ? moved / samplingRate : null;
}

/** Standard deviation of the displacement without its drift, in m. */
function spread(
  { displacement }: Displacement,
  from: number,
  to: number,
): number {
  const part = displacement.subarray(from, to).filter(Number.isFinite);
  if (part.length < 2) return NaN;
  const level = detrend(part, "linear");
  return Math.sqrt(
    level.reduce((sum, value) => sum + value ** 2, 0) / level.length,
  );
}
