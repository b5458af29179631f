import { describe, expect, it } from "vitest";
import { createKeyedRandom, createRandom } from "fringebook/signal";
import { Buffer } from "node:buffer";

describe("createKeyedRandom", () => {
  it("gives the key stream of AES-256 in counter mode", () => {
    // The first block of the stream is the cipher of a block of zeros: by
    // OpenSSL 3.0 (openssl enc -aes-256-ecb), key of NIST SP 800-38A, F.1.5.
    const key = Uint8Array.from(Buffer.from(
      "603deb1015ca71be2b73aef0857d77811f352c073b6108d72d9810a30914dff4",
      "hex",
    ));
    const random = createKeyedRandom(key);
    const words = Array.from({ length: 4 }, () => random.integer(2 ** 32));
    expect(words.map((word) => word.toString(16).padStart(8, "0")).join(""))
      .toBe("e568f68194cf76d6174d4cc04310a854");
  });
  it("gives uniform and normal numbers of the right mean and variance", () => {
    const random = createKeyedRandom(new Uint8Array(32));
    const count = 20_000;
    const mean = (values: number[]) =>
      values.reduce((sum, value) => sum + value, 0) / count;
    const uniform = Array.from({ length: count }, () => random.uniform());
    const normal = Array.from({ length: count }, () => random.normal());
    // Five standard errors of a mean of so many
    expect(Math.abs(mean(uniform) - 0.5)).toBeLessThan(5 * 0.2887 / 141);
    expect(Math.abs(mean(normal))).toBeLessThan(5 / 141);
    expect(Math.abs(mean(normal.map((x) => x * x)) - 1))
      .toBeLessThan(5 * Math.SQRT2 / 141);
  });
  it("gives other numbers for a key that differs in one bit", () => {
    const key = new Uint8Array(32);
    const first = createKeyedRandom(key).uniform();
    key[31] = 1;
    expect(createKeyedRandom(key).uniform()).not.toBe(first);
    expect(createRandom(0).uniform()).not.toBe(first);
  });
});
