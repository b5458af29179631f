import { checkpoint } from "../../progress/mod.ts";
import { cryptoModule, sha256Later } from "../../runtime/mod.ts";

/** Bytes read and hashed at once: small enough to be hashed from cache. */
const step = 1 << 20;

/** Files of at most so many bytes are hashed in one go, and nothing is loaded for it. */
export const smallFile = 1 << 22;

/**
 * Reads a file into memory of its exact size and hashes it on the way.
 *
 * @param path The file.
 * @param hashed Whether to hash it.
 * @returns The bytes and their SHA-256 in lower-case hex, or `null`.
 */
export async function readWhole(
  path: string | URL,
  hashed: boolean,
): Promise<{ bytes: Uint8Array<ArrayBuffer>; sha256: string | null }> {
  const file = Deno.openSync(path, { read: true });
  try {
    const { size } = file.statSync();
    const bytes = new Uint8Array(size);
    const inParts = hashed && size > smallFile;
    const hash = inParts ? cryptoModule().createHash("sha256") : null;
    let at = 0;
    while (at < size) {
      checkpoint(at / size, "read file");
      const part = bytes.subarray(at, Math.min(size, at + step));
      const count = file.readSync(part);
      if (count === null) break;
      hash?.update(part.subarray(0, count));
      at += count;
    }
    const read = bytes.subarray(0, at);
    const sha256 = hashed && !inParts ? await sha256Later(read) : null;
    return { bytes: read, sha256: hash?.digest("hex") ?? sha256 };
  } finally {
    file.close();
  }
}
