import { describe, expect, it } from "vitest";
import { exportedFunctions, type RawError, sweep } from "./sweep.ts";

describe("every exported function", () => {
  it("refuses missing, null and wrong arguments in words", async () => {
    const names = exportedFunctions();
    // A few that are exported by every version of the library.
    expect(names).toContain("measureSpeed");
    expect(names.length).toBeGreaterThan(180);
    const home = Deno.cwd();
    const folder = await Deno.makeTempDir();
    // What a call prints is of no interest here, what it writes even less.
    const { log } = console;
    console.log = () => {};
    Deno.chdir(folder);
    const errors: RawError[] = [];
    let calls = 0;
    try {
      for (const name of names) {
        const found = await sweep(name);
        calls += found.calls;
        errors.push(...found.errors);
      }
    } finally {
      console.log = log;
      Deno.chdir(home);
      await Deno.remove(folder, { recursive: true });
    }
    expect(calls).toBeGreaterThan(10_000);
    expect(errors).toEqual([]);
  });
});
