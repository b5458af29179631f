import { describe, expect, it } from "vitest";
import { expectedWork } from "../../lib/progress/mod.ts";
import { tellFitTime } from "../../lib/motion/fit_time.ts";

describe("the time of a fit", () => {
  it("is told from samples and fringes beforehand, and forgotten at its end", () => {
    const ended = tellFitTime(48_000, 150);
    // 48 000 × 45 µs; 8 s more where it has to search.
    expect(expectedWork()).toBe(
      "48000 samples, 150 fringes: 2 s where they read clearly, else up to 10 s",
    );
    ended(false);
    expect(expectedWork()).toBe(null);
  });

  it("is minutes for a long record that does not read", () => {
    const ended = tellFitTime(400_000, 2000);
    expect(expectedWork()).toMatch(
      /^400000 samples, 2000 fringes: 7 s where they read clearly, else up to 5 min$/,
    );
    ended(false);
  });
});
