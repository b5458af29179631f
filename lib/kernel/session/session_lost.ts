import type { SessionEnd } from "./session_process.ts";

/** Why a session came to its end, for the person. */
export interface SessionLoss {
  readonly ename: string;
  readonly evalue: string;
}

/** Limits of a session that are named where it passed one. */
export interface SessionLimits {
  /** Memory, in MB. */
  readonly memoryLimit: number;
  /** Files that were removed while open, in MB. */
  readonly unlinkedLimit: number;
}

const advice =
  "The variables were lost: run the cells again from the top of the notebook";

/** Puts the end of a session in plain words. */
export function describeLoss(
  end: SessionEnd,
  { memoryLimit, unlinkedLimit }: SessionLimits,
): SessionLoss {
  const { code, signal, exitCalled, memory, unlinked, lastWords } = end;
  if (unlinked !== null) {
    return {
      ename: "DiskLimit",
      evalue: `The session held ${
        Math.round(unlinked / 1e6)
      } MB in files that were removed while they were open, more than its limit of ${unlinkedLimit} MB, and was ended. ${advice}. Close a file before it is removed`,
    };
  }
  if (
    memory !== null ||
    /heap out of memory|Allocation failed|OutOfMemory|out of memory/i.test(
      lastWords,
    )
  ) {
    return {
      ename: "OutOfMemory",
      evalue:
        `The session used more memory than its limit of ${memoryLimit} MB and was ended. ${advice}. Work on less data at once, or raise the limit with --memory-limit`,
    };
  }
  if (exitCalled !== null) {
    return {
      ename: "SessionExit",
      evalue:
        `The cell ended the session with exit code ${exitCalled}. ${advice}`,
    };
  }
  const how = signal
    ? `was ended by the signal ${signal}`
    : `ended with code ${code}`;

  const words = lastWords.trim().split("\n").slice(-3).join("\n");
  return {
    ename: "SessionCrash",
    evalue: `The session ${how}. ${advice}${words ? `\n${words}` : ""}`,
  };
}
