import { describe, expect, it } from "vitest";
import { copyInto, copyOf, joinBytes } from "../../lib/memory/mod.ts";

const count = 600_001;

describe("a copy with checkpoints", () => {
  const values = Float64Array.from({ length: count }, (_, i) => i % 1000);

  it("is that of the array, whole or in part", () => {
    for (const [from, to] of [[0, count], [3, count - 5], [10, 10]] as const) {
      const copy = copyOf(values, "copy", from, to);
      const slice = values.slice(from, to);
      expect(copy.length).toBe(slice.length);
      expect(copy.every((value, i) => value === slice[i])).toBe(true);
      expect(copy.buffer === values.buffer).toBe(false);
    }
    expect(copyOf([1, 2, 3], "copy", 1)).toEqual(Float64Array.of(2, 3));
    expect(copyOf(Float32Array.of(0.5, 2), "copy"))
      .toEqual(Float64Array.of(0.5, 2));
  });

  it("goes to a place in another array", () => {
    const target = new Float64Array(count + 20);
    copyInto(target, 10, values, "copy");
    expect(target[9]).toBe(0);
    expect(target.subarray(10, 10 + count).every((v, i) => v === values[i]))
      .toBe(true);
    expect(target[10 + count]).toBe(0);
  });

  it("puts bytes one after the other", () => {
    const long = new Uint8Array(5 << 20).fill(7);
    const joined = joinBytes(
      [Uint8Array.of(1), long, Uint8Array.of(2)],
      "join",
    );
    expect(joined.length).toBe(long.length + 2);
    expect([joined[0], joined[1], joined.at(-2), joined.at(-1)])
      .toEqual([1, 7, 7, 2]);
  });
});
