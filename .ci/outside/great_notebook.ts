/** A notebook with one long output. */
export async function writeGreat(path: string, size: number): Promise<void> {
  const output = {
    output_type: "stream",
    name: "stdout",
    text: "x".repeat(size),
  };
  await Deno.writeTextFile(
    path,
    JSON.stringify({
      nbformat: 4,
      nbformat_minor: 5,
      metadata: {},
      cells: [{
        cell_type: "code",
        id: "a",
        metadata: {},
        source: "1",
        outputs: [output],
        execution_count: 1,
      }],
    }),
  );
}
