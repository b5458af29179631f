import { SaveError } from "./save_error.ts";

/** Options of {@linkcode LineFile}. */
export interface LineFileOptions {
  /**
   * Whether a line is on the disk, not only on its way there, before `add`
   * resolves.
   *
   * @default {false}
   */
  sync?: boolean;
  /**
   * Who may do what with a new file, as on the system.
   *
   * @default {0o666, less what the person's mask takes away}
   */
  mode?: number;
}

/** A file that grows by lines and never ends in half a line for long. */
export class LineFile {
  private constructor(
    private readonly path: string,
    private readonly file: Deno.FsFile,
    private readonly sync: boolean,
  ) {}

  /**
   * Opens a file to add lines. Half a line of a run that was killed is left to
   * stand, on a line of its own.
   *
   * @param path The file; it is made where it is not there.
   * @param options How safely.
   * @throws {SaveError} If it cannot be written to.
   */
  static async open(
    path: string,
    options: LineFileOptions = {},
  ): Promise<LineFile> {
    const { sync = false, mode = 0o666 } = options;
    // Other jobs may add to it too: each line goes to the end in one write
    const how = { read: true, append: true, create: true, mode };
    const file = await Deno.open(path, how).catch((error) => {
      throw new SaveError(path, error);
    });
    const lines = new LineFile(path, file, sync);
    if (!await lines.#endsWhole()) await lines.add("");
    return lines;
  }

  /**
   * Adds a line. Where the disk is full, what was written of it is taken back.
   *
   * @throws {SaveError} If it cannot be written; the lines before it stand.
   */
  async add(line: string): Promise<void> {
    const bytes = new TextEncoder().encode(line + "\n");
    const { size } = await this.file.stat();
    try {
      for (let at = 0; at < bytes.length;) {
        at += await this.file.write(bytes.subarray(at));
      }
      if (this.sync) await this.file.sync();
    } catch (error) {
      await this.file.truncate(size).catch(() => {});
      throw new SaveError(this.path, error);
    }
  }

  /** Closes the file. */
  close(): void {
    this.file.close();
  }

  async #endsWhole(): Promise<boolean> {
    if ((await this.file.stat()).size === 0) return true;
    const byte = new Uint8Array(1);
    await this.file.seek(-1, Deno.SeekMode.End);
    await this.file.read(byte);
    return byte[0] === 10;
  }
}
