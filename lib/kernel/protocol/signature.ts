import { Buffer } from "node:buffer";
import {
  createHmac,
  createSecretKey,
  getHashes,
  type KeyObject,
  timingSafeEqual,
} from "node:crypto";

/**
 * Signs and verifies messages with the key of the connection file. The key is
 * imported once; an empty key means that nothing is signed.
 *
 * @example
 * ```ts
 * import { Signer } from "fringebook/kernel";
 * import { expect } from "vitest";
 *
 * // RFC 4231, test case 2
 * const signer = new Signer("Jefe", "hmac-sha256");
 * const text = new TextEncoder().encode("what do ya want for nothing?");
 * const signature = signer.sign([text]);
 * expect(new TextDecoder().decode(signature)).toMatch(/^5bdcc146bf60754e/);
 * expect(signer.verify(signature, [text])).toBe(true);
 * ```
 */
export class Signer {
  readonly #key: KeyObject | null;
  readonly #hash: string;

  /**
   * A signer with the key of the connection file; an empty key signs nothing.
   *
   * @param key Key of the connection file, as text; `""` for no signing.
   * @param scheme `"hmac-"` and the name of a hash, such as `"hmac-sha256"`.
   * @throws {RangeError} If the scheme is not known.
   */
  constructor(key: string, scheme = "hmac-sha256") {
    const hash = scheme.startsWith("hmac-") ? scheme.slice(5) : "";
    if (!getHashes().some((name) => name.toLowerCase() === hash)) {
      throw new RangeError(
        `Cannot sign messages as 'signature_scheme' is not known: current value is "${scheme}". Use "hmac-sha256"`,
      );
    }
    this.#hash = hash;
    this.#key = key === ""
      ? null
      : createSecretKey(new TextEncoder().encode(key));
  }

  /** Whether messages are signed at all. */
  get signs(): boolean {
    return this.#key !== null;
  }

  /**
   * Signs a message.
   *
   * @param frames The four JSON frames, as the bytes on the wire.
   * @returns The signature, in lower-case hex as bytes; empty without a key.
   */
  sign(frames: readonly Uint8Array[]): Uint8Array {
    if (this.#key === null) return new Uint8Array(0);
    const hmac = createHmac(this.#hash, this.#key);
    for (const frame of frames) hmac.update(frame);
    return new Uint8Array(Buffer.from(hmac.digest("hex"), "latin1"));
  }

  /**
   * Compares in constant time.
   *
   * @param signature The signature frame as received.
   * @param frames The four JSON frames, as received.
   * @returns Whether the signature fits; always true without a key.
   */
  verify(signature: Uint8Array, frames: readonly Uint8Array[]): boolean {
    if (this.#key === null) return true;
    const expected = this.sign(frames);
    return signature.length === expected.length &&
      timingSafeEqual(signature, expected);
  }
}
