import { basename } from "@std/path/basename";
import { dirname } from "@std/path/dirname";
import { join } from "@std/path/join";
import { temporaryName } from "./leftovers.ts";
import { SaveError } from "./save_error.ts";
import { writeSynced } from "./write_synced.ts";

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

/**
 * Writes a file in one step: to a temporary file beside it, which is on the disk
 * before it takes the file's place. A full disk or a crash leaves what was there.
 *
 * @param path Where to; folders on the way are made.
 * @param content What; in pieces where it comes so.
 * @param options Who may read it.
 * @throws {SaveError} If it cannot be saved; the temporary file is removed. What
 * the pieces throw while they are made is thrown as it is.
 */
export async function writeWhole(
  path: string,
  content: string | Uint8Array | Iterable<Uint8Array>,
  options: WriteWholeOptions = {},
): Promise<void> {
  const { mode = 0o666 } = options;
  const folder = dirname(path);
  const temporary = join(folder, temporaryName(basename(path)));
  const made = { error: null as unknown };
  try {
    await Deno.mkdir(folder, { recursive: true });
    const isWhole = typeof content === "string" ||
      content instanceof Uint8Array;
    const parts = isWhole ? content : noting(content, made);
    await writeSynced(temporary, parts, mode);
    await Deno.rename(temporary, path);
  } catch (error) {
    await Deno.remove(temporary).catch(() => {});
    throw error === made.error ? error : new SaveError(path, error);
  }
}

/** The same pieces; what their making throws is noted. */
function* noting(
  pieces: Iterable<Uint8Array>,
  made: { error: unknown },
): Generator<Uint8Array> {
  try {
    yield* pieces;
  } catch (error) {
    made.error = error;
    throw error;
  }
}
