import { describe, expect, it } from "vitest";
import { join } from "@std/path";
import { readCapture } from "fringebook";
import { createRecording } from "fringebook/capture";

describe("a recording", () => {
  const channels = [
    { name: "a", role: "monitor signal", unit: "V", fullScale: null },
    { name: "b", role: "drive current", unit: "A", fullScale: null },
  ] as const;
  const options = {
    channels,
    samplingRate: 1234.5,
    startTime: "2026-11-30T10:00:00.000Z",
    metadata: { bench: "3" },
  };

  it("can be read while it is written, and whole when it is finished", async () => {
    const folder = await Deno.makeTempDir();
    const path = join(folder, "run.wav");
    const recording = await createRecording(path, options);
    recording.push([[0.5, 0.25], [1, 2]]);
    recording.push([[0.125], [3]], 2);
    while (recording.state.waiting > 0) {
      await new Promise((resolve) => setTimeout(resolve, 5));
    }
    // As after a program that was killed here.
    const early = await readCapture(join(folder, "run.part.wav"));
    expect(early.sampleCount).toBe(5);
    expect(early.samplingRate).toBe(1234.5);
    await expect(Deno.stat(path)).rejects.toThrow();
    const { samples, missing, fault } = await recording.finish();
    expect([samples, missing, fault]).toEqual([5, 2, null]);
    const whole = await readCapture(path);
    expect([...whole.channels[0]!.samples])
      .toEqual([0.5, 0.25, NaN, NaN, 0.125]);
    expect(whole.channels[1]!.role).toBe("drive current");
    expect(whole.metadata["bench"]).toBe("3");
    expect(whole.warnings).toEqual([]);
    expect([...Deno.readDirSync(folder)].map(({ name }) => name))
      .toEqual(["run.wav"]);
    await Deno.remove(folder, { recursive: true });
  });

  it("counts what the disk was too slow for, and leaves its place empty", async () => {
    const folder = await Deno.makeTempDir();
    const path = join(folder, "slow.wav");
    const recording = await createRecording(path, options);
    // 24 MB at once: more than the 16 MB that wait for the disk.
    const [blocks, length] = [12, 2 ** 18];
    for (let k = 0; k < blocks; k++) {
      const block = new Float64Array(length).fill(k + 1);
      recording.push([block, block]);
    }
    const { droppedBlocks } = recording.state;
    expect(droppedBlocks).toBeGreaterThan(0);
    expect(droppedBlocks).toBeLessThan(blocks / 2);
    while (recording.state.waiting > 0) {
      await new Promise((resolve) => setTimeout(resolve, 5));
    }
    recording.push([[0.5], [0.5]]);
    const { samples, missing, fault } = await recording.finish();
    expect(fault).toBe(null);
    expect(samples).toBe(blocks * length + 1);
    expect(missing).toBe(droppedBlocks * length);
    const { channels: [a] } = await readCapture(path);
    const kept = blocks - droppedBlocks;
    expect(
      a!.samples.every((value, i) =>
        i === blocks * length
          ? value === 0.5
          : i < kept * length
          ? value === Math.floor(i / length) + 1
          : Number.isNaN(value)
      ),
    ).toBe(true);
    await Deno.remove(folder, { recursive: true });
  });

  it("without a sample leaves no file, and a wrong name is refused", async () => {
    const folder = await Deno.makeTempDir();
    const recording = await createRecording(join(folder, "x.wav"), options);
    const { fault } = await recording.finish();
    expect(fault).toContain("No sample came");
    expect([...Deno.readDirSync(folder)]).toEqual([]);
    await expect(createRecording(join(folder, "x.csv"), options))
      .rejects.toThrow("end in .wav");
    await Deno.remove(folder, { recursive: true });
  });
});
