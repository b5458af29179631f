import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";

const events: string[] = [];

describe("the vitest adapter", () => {
  beforeAll(() => void events.push("all"));
  beforeEach(() => void events.push("each"));
  afterAll(() => expect(events[0]).toBe("all"));

  describe("inside", () => {
    beforeEach(() => void events.push("each inner"));
    it("runs hooks from the outside in, and beforeAll once", () => {
      expect(events).toEqual(["all", "each", "each inner"]);
    });
  });
  it("does not run hooks of a sibling", () => {
    expect(events).toEqual(["all", "each", "each inner", "each"]);
  });
  it("fails a wrong assertion, also behind 'rejects'", async () => {
    expect(() => expect(1).toBe(2)).toThrow();
    await expect(Promise.reject(new RangeError("no"))).rejects.toThrow("no");
  });
});
