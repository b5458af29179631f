import { inDigits, warn, type Warning } from "../result/mod.ts";
import type { Leaps } from "../motion/mod.ts";
import type { BurstEvidence } from "./burst_evidence.ts";
import type { FringeEvidence } from "./fringe_evidence.ts";
import type { PhaseLeaps } from "./phase_leaps.ts";
import type { LineForm } from "./line_form.ts";
import type { Decision, Evidence } from "./recognise_measurement.ts";
import type { SwingEvidence } from "./swing_evidence.ts";

/** Fewest fringes from which a kind of measurement is told. */
const fewestFringes = 8;
/** Fringes between two turns from which on a speed says more than a motion. */
const fringesOfSpeed = 100;
/** Fewest fringes of which a spectrum shows whether they slow down. */
const fringesOfSpectrum = 100;
/** Share of the time in which the level under fringes may march. */
const mostRiding = 0.6;
/** Fewest samples per fringe at the edges of steps: with fewer no fit was right. */
const fewestAtEdges = 8;
/** Height of the fringes at the edges over the usual one, at least. */
const leastHeight = 0.6;
/** Difference of neighbouring tops over the height of fringes, at most. */
const mostScatter = 0.06;

const percent = (value: number) => `${inDigits(100 * value, 3)} %`;
const hertz = (value: number) =>
  value < 1e3 ? `${inDigits(value, 3)} Hz` : `${inDigits(value / 1e3, 3)} kHz`;

/** Whether the swings ride on a level that marches up and down. */
export function ridesOnLevel(swings: SwingEvidence | null): boolean {
  return swings !== null && swings.ridingShare > mostRiding;
}

/** Whether the surface turned round, as the lean of its fringes shows. */
export function turnsRound(swings: SwingEvidence): boolean {
  const { reversals, risingLean, fallingLean, leanClarity } = swings;
  return reversals > 0 && leanClarity > 2 && risingLean + fallingLean > 0.7 &&
    Math.min(risingLean, fallingLean) > 0.15;
}

/**
 * Whether it runs at one speed one way and then the other for so many fringes
 * that the speed is what is measured.
 */
export function runsToAndFro(swings: SwingEvidence): boolean {
  const perStroke = swings.swings / 2 / (swings.reversals + 1);
  return swings.plateauShare > 0.55 && perStroke > fringesOfSpeed;
}

/**
 * Decides by the fringes of the monitor signal.
 *
 * @param evidence What was found in the capture.
 * @param samplingRate Samples per second, in Hz.
 * @param warnings Takes what makes the decision doubtful.
 * @returns The decision.
 */
export function recogniseByFringes(
  evidence: Evidence,
  samplingRate: number,
  warnings: Warning[],
): Decision {
  const { fringes, swings, bursts, drive, line, phaseLeaps } = evidence;
  if (fringes === null || swings === null) {
    return not("There is no monitor signal of at least 64 finite samples.");
  }
  if (evidence.leaps?.areHardEdges === true) return leaping(evidence.leaps);
  if (ridesOnLevel(swings)) return ridingOn(line, drive.channel);
  if (fringes.prominence < 6) {
    return not(
      `No frequency of the monitor signal stands out: the strongest is ${
        inDigits(fringes.prominence, 2)
      } times the median.`,
    );
  }
  if (fringes.fringes < fewestFringes) {
    return not(
      `The monitor signal swings ${fringes.fringes} times only; at least ${fewestFringes} swings are needed to tell fringes from light that comes and goes.`,
    );
  }
  const paced = swings.swings / 2 < 0.5 * fringes.fringes;
  const turned = !paced && turnsRound(swings);
  const twoRates = !paced && swings.fastShare > 0.2;
  const even = fringes.slowShare < 0.12 && fringes.unevenness < 0.3;
  // Speckle makes the times between fringes uneven; the line stays clear of zero.
  const clear = even ||
    (fringes.fringes > fringesOfSpectrum && fringes.lowShare < 0.04);
  const toAndFro = runsToAndFro(swings);
  if ((clear && !turned && !twoRates) || toAndFro) {
    const against = line === null ? null : contradictionOf(line);
    if (against !== null) return against;
    // Where it turns round the phase leaps as well.
    if (phaseLeaps !== null && !turnsRound(swings)) {
      return flyingBack(phaseLeaps, fringes.frequency);
    }
    return speed(evidence, even, turned && toAndFro, warnings);
  }
  if (swings.fastestRate > samplingRate / 4) {
    return not(
      `The fringes come with ${
        inDigits(samplingRate / swings.fastestRate, 2)
      } samples each where they are fastest: faster ones would look like slower ones.`,
      "Record at least ten samples per fringe: raise the sampling rate, or move slower.",
    );
  }
  if (swings.heightScatter > mostScatter + 1.5 * swings.noiseShare) {
    return not(
      `The swings of the monitor signal do not reach the same height: neighbouring ones differ by ${
        percent(swings.heightScatter)
      } of it. Fringes do; light that comes and goes, or a motion of less than half a wavelength, does not.`,
    );
  }
  return tooFast(bursts) ?? motion(fringes, swings, bursts);
}

/** What fringes of a target in steps do, in words. */
function comeInBursts(count: number, restShare: number): string {
  return `come in ${count} bursts with rests between them (${
    percent(restShare)
  } of the time), as where a target is driven in steps`;
}

/** Steps whose edges are faster than the samples or the amplifier. */
function tooFast(
  { bursts, restShare, fewestSamples, fastHeight }: BurstEvidence,
): Decision | null {
  if (bursts.length === 0) return null;
  const steps = `The fringes ${comeInBursts(bursts.length, restShare)}`;
  if (fewestSamples < fewestAtEdges) {
    return not(
      `${steps}, and where they come fastest they have only ${
        inDigits(fewestSamples, 2)
      } samples each: more of them may have passed at the edges than are seen.`,
      "Record at least ten samples per fringe: raise the sampling rate, or drive with slower edges (a triangle or a sine).",
    );
  }
  if (fastHeight < leastHeight) {
    return not(
      `${steps}, and where they come fastest they reach only ${
        percent(fastHeight)
      } of their height: the amplifier is too slow for them, and more of them may have passed at the edges than are seen.`,
      "Drive with slower edges (a triangle or a sine), or take an amplifier with a wider band.",
    );
  }
  return null;
}

function not(
  reason: string,
  nextStep =
    "Check the capture and the bench: checkCapture(capture), and the guide's troubleshooting page.",
): Decision {
  return { measurement: "none", reason, nextStep };
}

/** Edges that are faster than fringes can be followed. */
function leaping({ count, restShare, samples }: Leaps): Decision {
  return not(
    `The monitor signal rests for ${
      percent(restShare)
    } of the time and leaps ${count} times in between, within ${
      inDigits(samples, 2)
    } samples, as where a square drives the target: how many fringes passed at each edge, and which way, nobody can tell.`,
    "Drive with softer edges (a rounded square, a triangle, a sine), or record at least ten samples per fringe of the edges.",
  );
}

/** An even row of fringes that begins anew again and again. */
function flyingBack(
  { count, frequency }: PhaseLeaps,
  rate: number,
): Decision {
  return not(
    `The fringes keep their rate of ${
      hertz(rate)
    }, but their phase leaps ${count} times, every ${
      inDigits(1e3 / frequency, 3)
    } ms, as where a sawtooth drives the target and its flyback hides between two samples: then this is a motion of which half is not seen, and no speed.`,
    'Drive with a slower flyback (a triangle, a lopsided ramp) and record at least ten samples per fringe of it; if it is a speed all the same, pass measurement: "speed".',
  );
}

function ridingOn(line: LineForm | null, drive: string | null): Decision {
  const at = line === null ? "" : ` at ${hertz(line.frequency)}`;
  return not(
    `The fringes ride on a level that marches up and down${at} by more than they swing, as where the diode's current is modulated (or under strong hum). A target under steady light makes fringes of one level.`,
    drive === null
      ? "If the current is modulated, record it as a second channel and name it 'drive current', or state it with the option 'drive'; else find out what else changes the light."
      : `The recorded drive '${drive}' does not explain it: check which channel drives the diode's current.`,
  );
}

/** What the harmonics of an even signal have that no row of fringes has. */
function contradictionOf(line: LineForm): Decision | null {
  const { harmonics, background, clearness, frequency } = line;
  if (clearness < 0.7) return null;
  const at = hertz(frequency);
  const advice =
    "Block the beam: what stays is no fringe. If the current is modulated, record it as a second channel 'drive current'; if it is a speed all the same, pass measurement: \"speed\".";
  const second = harmonics[1];
  if (second === undefined) return null;
  if (Math.max(second, 2 * background) < 0.005) {
    return not(
      `The monitor signal is a pure tone at ${at}: its second harmonic is ${
        percent(second)
      }. Fringes lean over, by half the feedback parameter; modulated current, hum and flickering light need not.`,
      advice,
    );
  }
  const limit = Math.max(0.03, 5 * background);
  for (let n = 2; n < harmonics.length; n++) {
    if (harmonics[n]! > limit && harmonics[n]! > 1.5 * harmonics[n - 1]!) {
      return not(
        `The signal repeats at ${at}, but its harmonic ${n + 1} (${
          percent(harmonics[n]!)
        }) is larger than harmonic ${n} (${
          percent(harmonics[n - 1]!)
        }). An even row of fringes has none such; a triangle or fringes on a modulated current have.`,
        advice,
      );
    }
  }
  return null;
}

function speed(
  { fringes, swings, drive }: Evidence,
  even: boolean,
  toAndFro: boolean,
  warnings: Warning[],
): Decision {
  const { frequency, unevenness, lowShare } = fringes!;
  if (toAndFro) {
    return {
      measurement: "speed",
      reason: `The fringes keep their rate of ${
        hertz(swings!.fastestRate)
      } for ${
        percent(swings!.plateauShare)
      } of the time, and the target stops or turns round ${
        swings!.reversals
      } times, with some ${
        inDigits(swings!.swings / 2 / (swings!.reversals + 1), 2)
      } fringes each way.`,
      nextStep: "Follow the speed: trackSpeed(capture, { wavelength, angle }).",
    };
  }
  if (drive.relativeSwing > 0.1) {
    warnings.push(warn(
      "drive-and-steady-fringes",
      `The drive channel '${drive.channel}' changes while the fringes keep one rate; if the target is shaken by less than a quarter of a wavelength, this is a motion`,
    ));
  }
  return {
    measurement: "speed",
    reason: `The fringes keep their rate of ${hertz(frequency)}: ${
      even
        ? `the times between them scatter by ${percent(unevenness)}`
        : `only ${percent(lowShare)} of the power lies far below it`
    }.`,
    nextStep:
      "Measure the speed: measureSpeed(capture, { wavelength, angle }).",
  };
}

function motion(
  fringes: FringeEvidence,
  swings: SwingEvidence,
  { bursts, restShare }: BurstEvidence,
): Decision {
  return {
    measurement: "motion",
    reason: `The fringes do not keep their rate of ${
      hertz(fringes.frequency)
    }: ${
      bursts.length > 0
        ? `they ${comeInBursts(bursts.length, restShare)}`
        : turnsRound(swings)
        ? `they lean over to the other side ${swings.reversals} times, as where a target turns round`
        : `the times between them scatter by ${
          percent(fringes.unevenness)
        }, as where a target turns round`
    }.`,
    nextStep:
      "Count the fringes: countFringes(capture, { wavelength }), then measureDisplacement.",
  };
}
