import { basename, dirname, join } from "@std/path";
import { joinText, type Notebook, splitText } from "./notebook.ts";
import { SaveError } from "./save_error.ts";
import { temporaryName } from "./leftovers.ts";

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

/** Options of {@linkcode writeWhole}. */
export interface WriteWholeOptions {
  /**
   * Who may do what with the file, as on the system: `0o600` for the owner
   * alone. Windows knows no such thing.
   *
   * @default {0o666, less what the person's mask takes away}
   */
  mode?: number;
}

/** Writes a file in one step; see {@linkcode writeNotebook}. */
export async function writeWhole(
  path: string,
  content: string | Uint8Array,
  options: WriteWholeOptions = {},
): Promise<void> {
  const { mode = 0o666 } = options;
  const folder = dirname(path);
  const temporary = join(folder, temporaryName(basename(path)));
  try {
    await Deno.mkdir(folder, { recursive: true });
    const file = await Deno.open(temporary, {
      write: true,
      createNew: true,
      mode,
    });
    try {
      const bytes = typeof content === "string"
        ? new TextEncoder().encode(content)
        : content;
      for (let at = 0; at < bytes.length;) {
        at += await file.write(bytes.subarray(at));
      }
      await file.sync();
    } finally {
      file.close();
    }
    await Deno.rename(temporary, path);
  } catch (error) {
    await Deno.remove(temporary).catch(() => {});
    throw new SaveError(path, error);
  }
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
