import { describe, expect, it } from "vitest";
import { largePages } from "fringebook/memory/mod.ts";

/** Touches an array and counts the page faults: proc_pid_stat(5), field 10. */
const script = (size: number) => `
import { largePages } from "fringebook/memory/mod.ts";
const faults = () =>
  Number(Deno.readTextFileSync("/proc/self/stat").split(") ")[1].split(" ")[7]);
const before = faults();
const array = largePages(new Uint8Array(${size}));
for (let at = 0; at < ${size}; at += 4096) array[at] = 1;
console.log(faults() - before);
`;

const config = new URL("../../deno.json", import.meta.url).pathname;
const settings = "/sys/kernel/mm/transparent_hugepage/enabled";

/** Whether this system has large pages for those who ask. */
function onRequest(): boolean {
  if (Deno.build.os !== "linux") return false;
  try {
    return Deno.readTextFileSync(settings).includes("[madvise]");
  } catch {
    return false;
  }
}

describe("an array on large pages", () => {
  it("is the array that was given, still zero", () => {
    for (const length of [0, 10, 1 << 20, (1 << 20) + 7]) {
      const array = new Float64Array(length);
      expect(largePages(array)).toBe(array);
      expect(array.every((value) => value === 0)).toBe(true);
    }
    const part = new Float32Array(1 << 22).subarray(3);
    expect(largePages(part)).toBe(part);
  });

  it("takes few page faults where the system has such pages", async () => {
    if (!onRequest()) return;
    const size = 1 << 26;
    // In a process of its own: other tests beside it fault as well.
    const { stdout } = await new Deno.Command(Deno.execPath(), {
      args: ["eval", "--config", config, script(size)],
    }).output();
    const faults = Number(new TextDecoder().decode(stdout));
    expect(faults).toBeGreaterThan(0);
    // 16384 pages of 4 KiB, of which at most 1024 lie beside whole large pages;
    // half of them leaves room for a kernel that is short of large pages.
    expect(faults).toBeLessThan(size / 4096 / 2);
  });
});
