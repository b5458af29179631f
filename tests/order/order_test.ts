import { describe, expect, it } from "vitest";
import { orderOf, select, sortValues } from "../../lib/order/mod.ts";
import { setCheckpointHandler } from "../../lib/progress/mod.ts";
import { createRandom } from "../../lib/signal/mod.ts";

const count = 150_001;

/** Many values, a third of them twice and more. */
function someValues(): Float64Array {
  const random = createRandom(5);
  return Float64Array.from(
    { length: count },
    (_, i) => i % 3 === 0 ? i % 7 : random.normal(),
  );
}

/** Checkpoints of a piece of work. */
function checkpointsOf(work: () => void): number {
  let seen = 0;
  const before = setCheckpointHandler(() => seen++);
  try {
    work();
  } finally {
    setCheckpointHandler(before);
  }
  return seen;
}

describe("values in order", () => {
  it("are those of the array's own sort, with NaN at the end", () => {
    const values = someValues();
    values[7] = values[count - 1] = NaN;
    const sorted = values.slice().sort();
    let own = values;
    const checkpoints = checkpointsOf(() => own = sortValues(values));
    expect(own).toBe(values);
    expect(own.every((value, i) => Object.is(value, sorted[i]))).toBe(true);
    expect(checkpoints).toBeGreaterThan(5);
  });

  it("keep the order of equal ones in places", () => {
    const values = someValues();
    const stable = Array.from(values, (_, i) => i)
      .sort((a, b) => values[a]! - values[b]!);
    const order = orderOf(values);
    expect(stable.every((place, k) => place === order[k])).toBe(true);
    expect(orderOf(new Float64Array(0)).length).toBe(0);
  });

  it("are found by place", () => {
    const values = someValues();
    const sorted = values.slice().sort();
    for (const place of [0, 1, count >> 1, count - 1]) {
      expect(select(values, place)).toBe(sorted[place]!);
    }
  });
});
