import { expectWork } from "../progress/mod.ts";
import { longestJointRecord } from "./phase_stream.ts";

/**
 * Time of a fit whose fringes read clearly, in s per sample: 45 µs on one core at
 * 2.5 GHz for 48 000 samples with 150 fringes, within a factor of 2 from 5 to 100
 * samples per fringe. Fits of this session say how fast this machine is.
 */
const usual = 45e-6;
/** The same of a long record, beyond the part from which its feedback is learnt. */
const usualLong = 3e-6;
/** What is added where no reading fits: searches, up to their limit, in s. */
const searching = 8;
/** The same per sample of a long record, each block of which is read anew. */
const searchingLong = 0.8e-3;
/** Less than this is not told, in s. */
const worthTelling = 1;

/** How much slower this machine is than the one of the figures above (1). */
let slowness = 1;

/**
 * Tells how long a fit to fringes will take.
 *
 * @param samples Samples of the record.
 * @param fringes Fringes seen in it.
 * @returns Takes the time that it did take, once it has ended, and whether its
 * fringes read clearly.
 */
export function tellFitTime(
  samples: number,
  fringes: number,
): (isClear: boolean) => void {
  const joint = Math.min(samples, longestJointRecord);
  const clear = usual * joint + usualLong * (samples - joint);
  const long = samples > longestJointRecord;
  const hard = clear + (long ? searchingLong * samples : searching);
  const [least, most] = [slowness * clear, slowness * hard];
  const started = performance.now();
  expectWork(
    most < worthTelling
      ? null
      : `${samples} samples, ${Math.round(fringes)} fringes: ${
        inWords(least)
      } where they read clearly, else up to ${inWords(most)}`,
  );
  return (isClear) => {
    expectWork(null);
    const taken = (performance.now() - started) / 1e3;
    if (isClear && clear > 0.1) slowness = taken / clear;
  };
}

/** `"2 s"`, `"40 s"`, `"3 min"`. */
function inWords(seconds: number): string {
  if (seconds < 1) return "1 s";
  if (seconds < 90) return `${Number(seconds.toPrecision(1))} s`;
  return `${Math.round(seconds / 60)} min`;
}
