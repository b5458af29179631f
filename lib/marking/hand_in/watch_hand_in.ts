import { folderSize } from "./folder_size.ts";
import { type HandInLimits, mostFiles, ownMemory } from "./limits.ts";
import type { FamilyUsage, Usage } from "./usage.ts";

/**
 * Share of the time that session or runner must want to run, or the hand-in waits
 * (1). Work has a share near 1, less where a loaded disk lets it wait; a timer that
 * wakes up a few times a second has a few hundredths on a quiet machine. On one so
 * loaded that it has more, a hand-in that waits is ended by the clock instead.
 */
const wanting = 0.3;
/** How long a runner may take to tidy up once its session was ended, in ms. */
const grace = 30_000;

/**
 * Watches a running hand-in from outside and ends it where it passes a limit.
 * The system counts: what a hand-in says of itself is not asked for.
 */
export class HandInWatch {
  /** Why it was ended; `null` while it was not. */
  stopped: string | null = null;
  /** The most memory seen, in bytes. */
  memory = 0;
  readonly #begin = performance.now();
  #stoppedAt = NaN;
  #looks = 0;
  #idleSince = performance.now();
  #before = { session: 0, head: 0 };

  /**
   * @param family The runner and its session.
   * @param folder The copy that the hand-in runs in.
   * @param limits What it may use.
   */
  constructor(
    private readonly family: FamilyUsage,
    private readonly folder: string,
    private readonly limits: HandInLimits,
  ) {}

  /** Looks once; to be called a few times a second. */
  look(): void {
    const now = performance.now();
    if (this.stopped !== null) {
      this.family.kill(now - this.#stoppedAt > grace);
      return;
    }
    const usage = this.family.look();
    const why = this.#clock(now, usage !== null) ??
      (usage === null ? null : this.#counted(usage, now)) ?? this.#files();
    if (why === null) return;
    this.stopped = `could not be run to the end: ${why}`;
    this.#stoppedAt = now;
    // The runner stays, and says what there was until then
    this.family.kill(false);
  }

  #clock(now: number, counted: boolean): string | null {
    const { longestTime, cpuTime } = this.limits;
    // Where nobody counts processor time, the clock has to do
    const longest = counted ? longestTime : Math.min(longestTime, 8 * cpuTime);
    return now - this.#begin > longest * 1000
      ? `more than ${longest} s by the clock`
      : null;
  }

  #counted(usage: Usage, time: number): string | null {
    const { cpuTime, memory, disk, output, idleTime } = this.limits;
    this.memory = Math.max(this.memory, usage.memory);
    const session = this.family.descendants();
    if (session.cpuTime > cpuTime) {
      return `more than ${cpuTime} s of processor time`;
    }
    if (usage.memory > (memory + ownMemory) * 1e6) {
      return `more than ${memory} MB of memory`;
    }
    if (session.written > (disk + output) * 1e6) {
      return `more than ${disk} MB written to the disk`;
    }
    const now = { session: wish(session), head: wish(this.family.head()) };
    const wanted = Math.max(
      now.session - this.#before.session,
      now.head - this.#before.head,
    );
    const window = (time - this.#idleSince) / 1000;
    if (wanted > wanting * idleTime) {
      this.#before = now;
      this.#idleSince = time;
    } else if (window > idleTime) {
      return `it waited ${idleTime} s for something that did not come`;
    }
    return null;
  }

  #files(): string | null {
    if (++this.#looks % 4 !== 0) return null;
    const { bytes, files } = folderSize(this.folder, mostFiles);
    if (files > mostFiles) return `more than ${mostFiles} files`;
    return bytes > this.limits.disk * 1e6
      ? `more than ${this.limits.disk} MB on the disk`
      : null;
  }
}

/** Time that processes ran or were ready to run, in s. */
function wish({ cpuTime, waitTime }: Usage): number {
  return cpuTime + waitTime;
}
