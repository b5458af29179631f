/** What was typed makes no sense; the message says what and what to do. */
export class UsageError extends Error {
  override readonly name = "UsageError";
}
