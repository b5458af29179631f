/**
 * A file cannot be saved: the disk is full, the folder cannot be written to.
 * What stood at its place before is untouched.
 *
 * @example
 * ```ts
 * import { SaveError, writeWhole } from "fringebook/files/mod.ts";
 * import { expect } from "vitest";
 *
 * const folder = await Deno.makeTempDir();
 * await expect(writeWhole(folder, "text")).rejects.toThrow(SaveError);
 * ```
 */
export class SaveError extends Error {
  /** Name of the error. */
  override readonly name = "SaveError";
  /** Where it was to be saved. */
  readonly path: string;

  /**
   * Says which file could not be saved, and why.
   *
   * @param path Where it was to be saved.
   * @param cause What the system said.
   */
  constructor(path: string, cause: unknown) {
    const { code, message = String(cause) } = (cause ?? {}) as {
      code?: string;
      message?: string;
    };
    const known = code === undefined ? undefined : REASONS[code];
    super(
      known === undefined
        ? `Cannot save '${path}': ${message}. Nothing was changed there`
        : `Cannot save '${path}' as ${
          known[0]
        }: ${message}. Nothing was changed there. ${known[1]}`,
      { cause },
    );
    this.path = path;
  }
}

const FREE = "Free some space and try again";
const ELSEWHERE = "Choose a place that can be written to";
const REASONS: Record<string, readonly [string, string]> = {
  ENOSPC: ["the disk is full", FREE],
  EDQUOT: ["your share of the disk is used up", FREE],
  EROFS: ["the disk is read-only", ELSEWHERE],
  EACCES: ["writing there is not allowed", ELSEWHERE],
  EPERM: ["writing there is not allowed", ELSEWHERE],
  EISDIR: ["a folder has that name", "Choose another name"],
};
