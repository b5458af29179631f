/** A cell that cannot be parsed, with the place in the person's own text. */
export class CellSyntaxError extends SyntaxError {
  override readonly name = "SyntaxError";

  /**
   * @param message What is wrong.
   * @param line Line in the cell, from 1.
   * @param column Column in the line, from 1.
   */
  constructor(
    message: string,
    readonly line: number,
    readonly column: number,
  ) {
    super(message);
  }
}
