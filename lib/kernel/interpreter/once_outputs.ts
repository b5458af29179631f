import type { Output } from "../protocol/interpreter.ts";
import type { CellRun } from "./cell_run.ts";

/**
 * Outputs that a notebook needs once, such as a script that several outputs
 * share. The cell that holds one loses it when it runs again, so it is then
 * published anew by whoever needs it next.
 */
export class OnceOutputs {
  readonly #holders = new Map<string, CellRun["place"]>();

  /** Forgets what the cell that starts now held: its outputs are cleared. */
  forget({ place }: Pick<CellRun, "place">): void {
    for (const [key, holder] of this.#holders) {
      if (isSameCell(holder, place)) this.#holders.delete(key);
    }
  }

  /**
   * Publishes an output unless some cell holds it.
   *
   * @param run The run that needs it; nothing happens where nobody sees its
   * outputs.
   * @param key Names the output.
   * @param make Makes it.
   */
  async publish(
    run: Pick<CellRun, "place" | "silent" | "port"> | null,
    key: string,
    make: () => Promise<Output>,
  ): Promise<void> {
    if (run === null || run.silent || this.#holders.has(key)) return;
    this.#holders.set(key, run.place);
    try {
      run.port.publish(await make());
    } catch (error) {
      this.#holders.delete(key);
      throw error;
    }
  }
}

/**
 * Whether two runs are of one notebook cell. Some clients tell no id: then a
 * cell is known by its code, of which a person changes a few lines.
 */
function isSameCell(a: CellRun["place"], b: CellRun["place"]): boolean {
  if (a.cellId !== null && b.cellId !== null) return a.cellId === b.cellId;
  const [mine, other] = [linesOf(a.code), linesOf(b.code)];
  const shared = [...mine].filter((line) => other.has(line)).length;
  return 2 * shared >= Math.max(mine.size, other.size);
}

function linesOf(code: string): Set<string> {
  return new Set(
    code.split("\n").map((line) => line.trim()).filter((line) => line !== ""),
  );
}
