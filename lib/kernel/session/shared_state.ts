/**
 * Memory shared between the thread that runs cells and the thread that
 * listens to the owner. It is how a loop that never yields hears an interrupt.
 */
export interface SharedState {
  readonly control: SharedArrayBuffer;
  readonly text: SharedArrayBuffer;
}

/** Slots of `control`, each an `Int32`. */
export const slot = {
  /** Sequence number of the request to interrupt; 0 for none. */
  interrupt: 0,
  /** State of a blocking question; see {@linkcode inputState}. */
  input: 1,
  /** Length of the answer in `text`, in bytes. */
  inputLength: 2,
  /** 1 when the owner is gone. */
  orphaned: 3,
} as const;

/** States of a blocking question. */
export const inputState = {
  none: 0,
  waiting: 1,
  answered: 2,
  refused: 3,
  interrupted: 4,
} as const;

/** Longest answer to a blocking question, in bytes. */
export const longestAnswer = 1 << 20;

/** Makes the memory. */
export function createSharedState(): SharedState {
  return {
    control: new SharedArrayBuffer(4 * Int32Array.BYTES_PER_ELEMENT),
    text: new SharedArrayBuffer(longestAnswer),
  };
}
