/** The text of a notebook with one cell of code, which ran where it has outputs. */
export function oneCellNotebook(
  source: string,
  outputs: readonly unknown[] = [],
): string {
  return JSON.stringify({
    nbformat: 4,
    nbformat_minor: 5,
    metadata: {},
    cells: [{
      cell_type: "code",
      id: "a",
      metadata: {},
      source,
      outputs,
      execution_count: outputs.length > 0 ? 1 : null,
    }],
  });
}
