import { checkpoint } from "../../progress/mod.ts";
import type { ByteSource } from "./byte_source.ts";
import { cryptoModule } from "../../runtime/mod.ts";

/** Bytes read and hashed at once: small enough to be hashed from cache. */
const step = 1 << 18;

/** A source whose bytes are hashed as they are read. */
export interface HashedSource extends ByteSource {
  /** Hashes bytes that somebody else has read, if they are the next in order. */
  take(offset: number, bytes: Uint8Array): void;
  /**
   * SHA-256 of the whole source in lower-case hex; reads what nobody read yet.
   */
  sha256(): string;
}

/**
 * Hashes a source on the way: bytes that are read in order are hashed while they
 * are in the processor's cache, and none is read twice for it.
 */
export function hashedSource(source: ByteSource): HashedSource {
  const hash = cryptoModule().createHash("sha256");
  let hashedTo = 0;
  let digest: string | null = null;
  const take = (offset: number, bytes: Uint8Array) => {
    if (
      digest !== null || offset > hashedTo || offset + bytes.length <= hashedTo
    ) return;
    hash.update(bytes.subarray(hashedTo - offset));
    hashedTo = offset + bytes.length;
  };
  return {
    size: source.size,
    inMemory: source.inMemory,
    owned: source.owned,
    take,
    read(offset, length) {
      const bytes = source.read(offset, length);
      take(offset, bytes);
      return bytes;
    },
    readInto(offset, target) {
      let done = 0;
      while (done < target.length) {
        const part = target.subarray(done, done + step);
        const got = source.readInto(offset + done, part);
        take(offset + done, part.subarray(0, got));
        done += got;
        if (got < part.length) break;
      }
      return done;
    },
    sha256() {
      if (digest !== null) return digest;
      while (hashedTo < source.size) {
        checkpoint(hashedTo / source.size, "hash file");
        const bytes = source.read(hashedTo, step);
        if (bytes.length === 0) break;
        take(hashedTo, bytes);
      }
      return digest = hash.digest("hex");
    },
    close: () => source.close(),
  };
}
