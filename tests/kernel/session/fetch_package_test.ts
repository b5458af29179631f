import { describe, expect, it } from "vitest";
import { fetchPackage } from "../../../lib/kernel/session/fetch_package.ts";

describe("a session that asks for a package", () => {
  it("cannot choose what is fetched: other names never reach the registry", async () => {
    const names = [
      "npm:left-over-secret-words",
      "npm:danfojs@1.1.2",
      "fft.js",
      "fringebook",
      "../../tests/vitest.ts",
      "__proto__",
      "toString",
      "",
    ];
    for (const name of names) {
      const told: string[] = [];
      const answer = await fetchPackage(name, null, (text) => told.push(text));
      expect(answer).toContain("notebooks have no network");
      expect(told).toEqual([]);
    }
  });
});
