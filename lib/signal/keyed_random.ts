import { cryptoModule } from "../runtime/mod.ts";
import { type RandomStream, streamOfWords } from "./random.ts";

/** Bytes of a key. */
const keyLength = 32;
const blockLength = 65536;

/**
 * Makes a stream of random numbers that nobody can repeat or search without its
 * key: AES-256 in counter mode, from zero. The same key gives the same numbers
 * on every machine. For what must stay secret, such as the truth of a student's
 * own captures; {@linkcode createRandom} has a seed of 32 bits, which a machine
 * tries through.
 *
 * Source: NIST SP 800-38A (2001), 6.5, counter mode.
 *
 * @param key 32 bytes.
 * @returns The stream.
 * @throws {RangeError} If the key is not of that length.
 *
 * @example
 * ```ts
 * import { createKeyedRandom } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const key = new Uint8Array(32).fill(7);
 * const numbers = () => createKeyedRandom(key).uniform();
 * expect(numbers()).toBe(numbers());
 * expect(() => createKeyedRandom(new Uint8Array(4))).toThrow("32 bytes");
 * ```
 */
export function createKeyedRandom(key: Uint8Array): RandomStream {
  if (!(key instanceof Uint8Array) || key.length !== keyLength) {
    throw new RangeError(
      `Cannot make a random stream as 'key' must be ${keyLength} bytes: current length is ${key?.length}`,
    );
  }
  const cipher = cryptoModule().createCipheriv(
    "aes-256-ctr",
    key,
    new Uint8Array(16),
  );
  const zeros = new Uint8Array(blockLength);
  let words: DataView<ArrayBufferLike> = new DataView(new ArrayBuffer(0));
  let at = 0;
  return streamOfWords(() => {
    if (at === words.byteLength) {
      const block = cipher.update(zeros);
      words = new DataView(block.buffer, block.byteOffset, block.length);
      at = 0;
    }
    const word = words.getUint32(at);
    at += 4;
    return word;
  });
}
