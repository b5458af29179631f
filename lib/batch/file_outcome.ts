/** What came of one file of a batch: plain data, the same as its JSON line. */
export interface FileOutcome {
  /** Path as given. */
  readonly file: string;
  /** Whether numbers came of it. */
  readonly status: "measured" | "failed";
  /** What the capture was measured as; `null` where it could not be read. */
  readonly measurement: string | null;
  /** Why it was taken for that; `null` where it could not be read. */
  readonly reason: string | null;
  /** Reports as JSON: the quality check first, then the results. */
  readonly reports: readonly unknown[];
  /** What went wrong; `null` for a measured file. */
  readonly error: { readonly name: string; readonly message: string } | null;
  /**
   * How it was measured, by the names of the settings, in SI units; `null` or
   * left out where the line does not say it.
   */
  readonly settings?: Readonly<Record<string, unknown>> | null;
  /** The file as it was; `null` or left out where the line does not say it. */
  readonly source?: {
    /** Size, in bytes. */
    readonly size: number;
    /** When it was last changed, in ms since 1970 (UTC). */
    readonly modified: number;
  } | null;
}
