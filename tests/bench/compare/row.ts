/** Something one process does again and again, timed each time. */
export interface Job {
  /**
   * File that holds it, `.ts` (run by Deno) or `.py` (run by Python). It exports
   * a function that takes `options`, gets ready (not timed), and returns the
   * function to time.
   */
  readonly file: URL;
  /** Name of the exported function. */
  readonly name: string;
  /** What it takes; JSON values only. */
  readonly options: Readonly<Record<string, unknown>>;
  /** Python packages it needs. */
  readonly needs?: readonly string[];
}

/** A command that is started anew each time and timed until it ends. */
export interface CommandJob {
  /** The program; `"python3"` stands for the Python that was chosen. */
  readonly command: string;
  readonly arguments: readonly string[];
  /** Python packages it needs. */
  readonly needs?: readonly string[];
}

/** One line of the table: the same work done by two routes. */
export interface Row {
  /** What is done, such as `"text, 6 decimals"`. */
  readonly name: string;
  /** Our route. */
  readonly ours: Job | CommandJob;
  /** The other route; `null` where there is none. */
  readonly theirs: Job | CommandJob | null;
  /** Name of the other route, such as `"pandas"`. */
  readonly other: string;
  /** File whose size gives MB/s; left out where a rate makes no sense. */
  readonly file?: string;
  /** Samples worked through; left out where they are not the measure. */
  readonly samples?: number;
  /** Makes the data, if they are not there yet. Not timed. */
  readonly prepare?: () => Promise<void>;
  /** Most timed pairs, for rows that take long. */
  readonly mostRuns?: number;
}

/** What one route took. */
export interface Timing {
  /** Wall time of each run, in s, warm-up left out. */
  readonly wall: readonly number[];
  /** CPU time of each run, in s; `NaN` where not known. */
  readonly cpu: readonly number[];
  /** Most memory the process held up to the end of its first run, in bytes. */
  readonly peak: number;
}
