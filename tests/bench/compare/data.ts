/** Temporary folder of the data that the routes work on. */
export class DataFolder {
  readonly #folder: string;

  /** @param folder The folder; made if it is not there. */
  constructor(folder: string) {
    Deno.mkdirSync(folder, { recursive: true });
    this.#folder = folder;
  }

  /** Path of a file in the folder. */
  path(name: string): string {
    return `${this.#folder}/${name}`;
  }

  /** Makes a file unless it is there. */
  async make(
    name: string,
    write: (path: string) => void | Promise<void>,
  ): Promise<void> {
    const path = this.path(name);
    try {
      await Deno.stat(path);
      return;
    } catch (error) {
      if (!(error instanceof Deno.errors.NotFound)) throw error;
    }
    await write(`${path}.part`);
    await Deno.rename(`${path}.part`, path);
  }

  /** Takes a file away that no later row needs. */
  async drop(name: string): Promise<void> {
    await Deno.remove(this.path(name)).catch(() => {});
  }
}
