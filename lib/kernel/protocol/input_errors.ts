/** The client takes no input, or the cell that asks has ended. */
export class InputNotAllowedError extends Error {
  /** Name of the error. */
  override readonly name = "InputNotAllowedError";
}

/** The person interrupted while a line was awaited. */
export class InterruptedError extends Error {
  /** Name of the error. */
  override readonly name = "KeyboardInterrupt";
}

/** The person ended the input instead of giving a line. */
export class EndOfInputError extends Error {
  /** Name of the error. */
  override readonly name = "EndOfInputError";
}
