import { describe, expect, it } from "vitest";
import type { Output } from "../../../lib/kernel/protocol/mod.ts";
import { expectedWork, expectWork } from "../../../lib/progress/mod.ts";
import { WorkProgress } from "../../../lib/kernel/session/work_progress.ts";

/** Progress with a clock that the test moves, and what it shows. */
function watched() {
  let now = 0;
  const shown: { type: string; text: string; id: string | null }[] = [];
  const progress = new WorkProgress({ clock: () => now });
  progress.begin((output: Output) => {
    if (!("data" in output) || !("displayId" in output)) return;
    const { type, data, displayId } = output;
    shown.push({ type, text: String(data["text/plain"]), id: displayId });
  });
  const at = (seconds: number, fraction: number, work: string) => {
    now = seconds;
    progress.at(fraction, work);
  };
  return { at, progress, shown, move: (seconds: number) => now = seconds };
}

describe("progress of a cell", () => {
  it("shows nothing of a cell that takes less than a second", () => {
    const { at, progress, shown, move } = watched();
    at(0.5, 0.5, "unwrap phase");
    move(0.9);
    progress.end(true);
    expect(shown).toEqual([]);
  });

  it("keeps the name and the part of work whose small parts have none", () => {
    const { at, shown } = watched();
    at(0, 0, "count steps");
    at(2, 0.25, "count steps");
    at(4, NaN, "");
    expect(shown.map(({ text }) => text)).toEqual([
      "count steps: 25 %, 6.0 s left",
      "count steps: 25 %, 12 s left",
    ]);
  });

  it("shows what is done, how far and how long still, in one output", () => {
    const { at, progress, shown, move } = watched();
    at(0, 0, "unwrap phase");
    at(2, 0.25, "unwrap phase");
    at(2.1, 0.26, "unwrap phase"); // too soon to be shown
    at(4, 0.5, "unwrap phase");
    move(8);
    progress.end(true);
    expect(shown.map(({ text }) => text)).toEqual([
      "unwrap phase: 25 %, 6.0 s left",
      "unwrap phase: 50 %, 4.0 s left",
      "Done in 8.0 s",
    ]);
    expect(shown.map(({ type }) => type)).toEqual([
      "display_data",
      "update_display_data",
      "update_display_data",
    ]);
    expect(new Set(shown.map(({ id }) => id)).size).toBe(1);
  });

  it("says how long it was expected to take, until the next cell", () => {
    const { at, progress, shown } = watched();
    at(0, 0, "fit phase");
    expectWork("48000 samples, 96 fringes: 2 s where they read clearly");
    at(2, NaN, "fit phase");
    progress.end(true);
    expect(shown[0]!.text).toBe(
      "fit phase: 2.0 s so far (48000 samples, 96 fringes: 2 s where they read clearly)",
    );
    progress.begin(() => {});
    expect(expectedWork()).toBe(null);
  });

  it("counts the time of each work by itself, and says where it was stopped", () => {
    const { at, progress, shown, move } = watched();
    at(0, 0, "read file");
    at(10, 0, "fit");
    at(12, 0.5, "fit");
    move(13);
    progress.end(false);
    expect(shown.map(({ text }) => text)).toEqual([
      "fit: 0 %, 10 s so far",
      "fit: 50 %, 2.0 s left",
      "Stopped after 13 s, in fit at 50 %",
    ]);
  });

  it("says how long it runs where the part done is not known", () => {
    const { at, shown } = watched();
    at(0, NaN, "");
    at(3, NaN, "");
    expect(shown.map(({ text }) => text)).toEqual(["Working: 3.0 s so far"]);
  });
});
