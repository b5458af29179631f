import { writeWhole } from "../files/mod.ts";
import { joinText, type Notebook, splitText } from "./notebook.ts";

/** The text of a notebook's file, as notebook editors write it. */
export function formatNotebook(notebook: Notebook): string {
  const cells = notebook.cells.map((cell) => ({
    ...cell,
    source: splitText(joinText(cell.source)),
    ...(cell.outputs ? { outputs: cell.outputs.map(storedOutput) } : {}),
  }));
  return JSON.stringify({ ...notebook, cells }, null, 1) + "\n";
}

/**
 * Saves a notebook: to a temporary file beside it that then takes its place,
 * so that a full disk or a crash leaves the file as it was.
 *
 * @param path Where to.
 * @param notebook What.
 * @throws {SaveError} If it cannot be saved.
 */
export async function writeNotebook(
  path: string,
  notebook: Notebook,
): Promise<void> {
  await writeWhole(path, formatNotebook(notebook));
}

type Stored = NonNullable<Notebook["cells"][number]["outputs"]>[number];

function storedOutput(output: Stored): Stored {
  if (output.output_type === "stream") {
    return { ...output, text: splitText(joinText(output.text)) };
  }
  if (!("data" in output)) return output;
  const data = Object.fromEntries(
    Object.entries(output.data as Record<string, unknown>).map((
      [mime, value],
    ) => [
      mime,
      typeof value === "string" && /^text\/|^image\/svg|javascript$/.test(mime)
        ? splitText(value)
        : value,
    ]),
  );
  return { ...output, data } as Stored;
}
