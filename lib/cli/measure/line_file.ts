/** A file of lines that grows, and never holds a line by halves for long. */
export class LineFile {
  private constructor(
    private readonly path: string,
    private readonly file: Deno.FsFile,
  ) {}

  /**
   * Opens a file to add lines. Half a line of a run that was killed is left to
   * stand, on a line of its own.
   *
   * @param path The file; it is made where it is not there.
   */
  static async open(path: string): Promise<LineFile> {
    // Other jobs may add to it too: each line goes to the end in one write
    const options = { read: true, append: true, create: true };
    const lines = new LineFile(path, await Deno.open(path, options));
    if (!await lines.#endsWhole()) await lines.add("");
    return lines;
  }

  /**
   * Adds a line. Where the disk is full, what was written of it is taken back.
   *
   * @throws {Error} If it cannot be written; the lines before it stand.
   */
  async add(line: string): Promise<void> {
    const bytes = new TextEncoder().encode(line + "\n");
    const { size } = await this.file.stat();
    try {
      for (let at = 0; at < bytes.length;) {
        at += await this.file.write(bytes.subarray(at));
      }
    } catch (error) {
      await this.file.truncate(size).catch(() => {});
      const why = error instanceof Error ? error.message : String(error);
      throw new Error(
        `Cannot add to '${this.path}': ${why}. The lines before stand; free some space and run the same command again`,
        { cause: error },
      );
    }
  }

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
