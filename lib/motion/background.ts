import { warn, type Warning } from "../result/mod.ts";
import { couplingLevels } from "./coupling_levels.ts";
import { detectFringes } from "./detection.ts";
import { fillGaps } from "./gaps.ts";
import { type HumLevels, humLevels } from "./hum_levels.ts";
import { signalScale } from "./signal_scale.ts";
import { wholeSwings } from "./whole_swings.ts";

/** Mains frequencies of the world, in Hz (IEC 60038). */
const mainsOfTheWorld = [50, 60] as const;
/** Less hum is left to the fit: rms over half of the fringes' height (1). */
const leastHum = 0.004;
/** Hum worth a word, in the same measure (1). */
const muchHum = 0.02;

/** A signal whose fringes have their levels again. */
export interface Background {
  /** The signal; the given one where nothing had to be changed. */
  readonly signal: Float64Array;
  /** Hum that was taken off; `null` for none. */
  readonly hum: HumLevels | null;
  /** Corner of a capacitor that was found and undone, in Hz; `null` for none. */
  readonly couplingCorner: number | null;
  /** What is said of both. */
  readonly warnings: readonly Warning[];
}

/** Options of {@linkcode backgroundOf}. */
interface BackgroundOptions {
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Mains frequency, in Hz; `null` looks for those of the world. */
  readonly mainsFrequency: number | null;
  /** Whether a coupling capacitor is looked for. */
  readonly findsCoupling: boolean;
}

/**
 * Takes off what moves the levels of the fringes, as the middles of whole fringes
 * show it: mains hum, then what a coupling capacitor took.
 *
 * @param signal The signal; `NaN` where samples are left out.
 * @param options What is known of the bench.
 * @returns The signal, and what was taken off.
 */
export function backgroundOf(
  signal: Float64Array,
  { samplingRate, mainsFrequency, findsCoupling }: BackgroundOptions,
): Background {
  let clean = signal;
  let seen = fringesOf(signal);
  const hum = humOf(seen, samplingRate, mainsFrequency);
  if (hum !== null) {
    clean = signal.map((value, i) => value - hum.at(i));
    seen = fringesOf(clean);
  }
  const { filled, detection } = seen;
  const coupling = findsCoupling && detection !== null
    ? couplingLevels(filled, detection, samplingRate)
    : null;
  if (coupling !== null) {
    clean = clean.map((value, i) => value + coupling.taken[i]!);
  }
  const warnings: Warning[] = [];
  const { amplitude } = signalScale(clean);
  if (hum !== null && hum.size >= muchHum * amplitude) {
    warnings.push(humWarning(hum, amplitude));
  }
  const couplingCorner = coupling?.corner ?? null;
  if (couplingCorner !== null) warnings.push(couplingWarning(couplingCorner));
  return { signal: clean, hum, couplingCorner, warnings };
}

/** A signal without gaps, and its fringes. */
function fringesOf(signal: Float64Array) {
  const filled = signal.includes(NaN) ? fillGaps(signal) : signal;
  return { filled, detection: detectFringes(filled) };
}

function humOf(
  { filled, detection }: ReturnType<typeof fringesOf>,
  samplingRate: number,
  mains: number | null,
): HumLevels | null {
  if (detection === null) return null;
  const { extremes, scale } = detection;
  const hum = humLevels(wholeSwings(extremes), {
    samplingRate,
    frequencies: mains === null ? mainsOfTheWorld : [mains],
    sampleCount: filled.length,
  });
  return hum === null || hum.size < leastHum * scale.amplitude ? null : hum;
}

function humWarning({ frequency, size }: HumLevels, amplitude: number) {
  return warn(
    "hum-taken-off",
    `The levels of the fringes follow the mains (${
      frequency.toFixed(1)
    } Hz) by ${
      (100 * size / amplitude).toPrecision(2)
    } % of half their height (rms), which was taken off: shield leads and light`,
    "note",
  );
}

function couplingWarning(corner: number) {
  return warn(
    "coupling-found",
    `The levels of the fringes follow a coupling capacitor with its corner at ${
      corner.toPrecision(2)
    } Hz, which was undone: give 'couplingCorner' where it is known, or couple with DC`,
    "note",
  );
}
