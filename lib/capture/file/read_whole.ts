import { checkpoint } from "../../progress/mod.ts";
import { cryptoModule } from "../../runtime/mod.ts";

/** Bytes read and hashed at once: small enough to be hashed from cache. */
const step = 1 << 20;

/**
 * Reads a file into memory of its exact size and hashes it on the way.
 *
 * @param path The file.
 * @param hashed Whether to hash it.
 * @returns The bytes and their SHA-256 in lower-case hex, or `null`.
 */
export function readWhole(
  path: string | URL,
  hashed: boolean,
): { bytes: Uint8Array<ArrayBuffer>; sha256: string | null } {
  const file = Deno.openSync(path, { read: true });
  try {
    const { size } = file.statSync();
    const bytes = new Uint8Array(size);
    const hash = hashed ? cryptoModule().createHash("sha256") : null;
    let at = 0;
    while (at < size) {
      checkpoint(at / size, "read file");
      const part = bytes.subarray(at, Math.min(size, at + step));
      const count = file.readSync(part);
      if (count === null) break;
      hash?.update(part.subarray(0, count));
      at += count;
    }
    return {
      bytes: bytes.subarray(0, at),
      sha256: hash?.digest("hex") ?? null,
    };
  } finally {
    file.close();
  }
}
