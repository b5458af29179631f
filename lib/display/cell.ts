/** One output of a cell, as the notebook session takes it. */
export type CellOutput =
  | { type: "stream"; name: "stdout" | "stderr"; text: string }
  | {
    type: "display_data" | "update_display_data";
    data: Record<string, unknown>;
    metadata: Record<string, unknown>;
    displayId: string | null;
  }
  | { type: "clear_output"; wait: boolean };

/** What a notebook session offers to the code of a cell. */
export interface Cell {
  /** Publishes an output under the running cell. */
  publish(output: CellOutput): void;
  /**
   * Publishes an output that a notebook needs once, unless a cell that ran
   * before still holds it.
   *
   * @param key Names the output.
   * @param make Makes it where it is needed.
   */
  publishOnce?(
    key: string,
    make: () => Promise<CellOutput>,
  ): Promise<void>;
  /**
   * Says how the next interrupt stops what the cell does now, so that it still
   * gives its value.
   *
   * @param stop Stops it.
   * @returns Takes it back.
   */
  onInterrupt?(stop: () => void): () => void;
  /**
   * Asks the person for a line.
   *
   * @param prompt The question.
   * @param password Whether what is typed is hidden.
   */
  requestInput?(prompt: string, password: boolean): Promise<string>;
}

/**
 * The running cell, set by the notebook session on
 * `globalThis[Symbol.for("fringebook.cell")]`.
 *
 * @returns The cell, or `null` outside a notebook.
 *
 * @example
 * ```ts
 * import { currentCell } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * expect(currentCell()).toBe(null);
 * ```
 */
export function currentCell(): Cell | null {
  const cell =
    (globalThis as Record<symbol, unknown>)[Symbol.for("fringebook.cell")];
  return typeof cell === "object" && cell !== null && "publish" in cell
    ? cell as Cell
    : null;
}
