import { describe, expect, it } from "vitest";
import { makeRoom } from "fringebook/memory/mod.ts";

const size = 1 << 27;
const external = () => Deno.memoryUsage().external;

/** Makes a large array, and lets go of it. */
function waste(): void {
  new Uint8Array(size)[size - 1] = 1;
}

describe("room for large arrays", () => {
  it("is made of arrays that nothing holds", () => {
    waste();
    expect(external()).toBeGreaterThan(size);
    makeRoom(size, 0);
    expect(external()).toBeLessThan(size / 4);
  });

  it("leaves arrays that are held", () => {
    const held = new Uint8Array(size).fill(1);
    makeRoom(size, size);
    makeRoom(size, 0);
    expect(held[size - 1]).toBe(1);
    expect(external()).toBeGreaterThan(size - 1);
  });
});
