import { notInstalled, type Python } from "./machine.ts";
import { type Partner, startPartner } from "./partner.ts";
import { startCommand } from "./command.ts";
import type { CommandJob, Job, Row, Timing } from "./row.ts";

/** What came out for one row. */
export interface Measured {
  readonly row: Row;
  readonly ours: Timing;
  /** The other route, or why there is none. */
  readonly theirs: Timing | string;
  /** Size of the row's file, in bytes; `null` where it has none. */
  readonly bytes: number | null;
}

/** Work up to this time warms up twice, in s. */
const quick = 1;
/** Work from this time on is done once: nothing is left to warm up, in s. */
const slow = 20;

const start = (job: Job | CommandJob, python: string | null) =>
  "command" in job ? startCommand(job, python) : startPartner(job, python);

/**
 * Runs both routes in turns, each going first every other time. The first pair
 * warms up and gives the peak memory; it is not in the times, nor is the second
 * of quick work. Work of over 20 s is done once.
 */
export async function measureRow(
  row: Row,
  runs: number,
  python: Python | null,
): Promise<Measured> {
  await row.prepare?.();
  const missing = row.theirs === null
    ? []
    : notInstalled(python, row.theirs.needs ?? []);
  const ours = await start(row.ours, python?.path ?? null);
  const theirs = row.theirs === null || missing.length > 0
    ? null
    : await start(row.theirs, python?.path ?? null);
  const first = empty();
  const second = empty();
  try {
    const count = Math.min(runs, row.mostRuns ?? runs);
    let warming = true;
    let once = false;
    for (let run = -1; run < count; run++) {
      const turns: [Partner, Mutable][] = [[ours, first]];
      if (theirs !== null) turns.push([theirs, second]);
      if (run % 2 === 0) turns.reverse();
      for (const [partner, timing] of turns) {
        const { wall, cpu, peak } = await partner.run();
        timing.wall.push(wall);
        timing.cpu.push(cpu ?? NaN);
        if (Number.isNaN(timing.peak)) timing.peak = peak ?? NaN;
        // Quick work warms up twice, so that compilers are done with it.
        if (wall > quick) warming = false;
        if (wall > slow) once = true;
      }
      if (once) break;
      if (run < 0) {
        for (const [, timing] of turns) {
          timing.wall.length = 0;
          timing.cpu.length = 0;
        }
      }
      if (run < 0 && warming) {
        warming = false;
        run--;
      }
    }
  } finally {
    await ours.close();
    await theirs?.close();
  }
  return {
    row,
    ours: first,
    theirs: theirs !== null
      ? second
      : missing.length > 0
      ? `not installed: ${missing.join(", ")}`
      : "",
    bytes: row.file === undefined ? null : (await Deno.stat(row.file)).size,
  };
}

type Mutable = { wall: number[]; cpu: number[]; peak: number };

const empty = (): Mutable => ({ wall: [], cpu: [], peak: NaN });
