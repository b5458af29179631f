import { describe, expect, it } from "vitest";
import { join } from "@std/path";
import { createPipeSource, watch } from "fringebook";
import {
  type PlainBench,
  plainCapture,
  plainWavelength,
  triangle,
} from "../doors/plain_bench.ts";
import { inCell, makePipe } from "./cell.ts";

const folder = await Deno.makeTempDir();
const file = (name: string) => join(folder, name);
globalThis.addEventListener(
  "unload",
  () => Deno.removeSync(folder, { recursive: true }),
);

describe("what is measured while a stranger's bench is watched", () => {
  /** What stands in the pictures of a bench whose samples come through a pipe. */
  async function rowsOf(
    name: string,
    bench: PlainBench,
    options: Parameters<typeof watch>[1],
  ) {
    const { channels, samplingRate, sampleCount } = plainCapture(bench);
    const together = new Float32Array(channels.length * sampleCount);
    channels.forEach(({ samples }, k) =>
      samples.forEach((value, i) => together[i * channels.length + k] = value)
    );
    await makePipe(file(name));
    const write = (async () => {
      const pipe = await Deno.open(file(name), { write: true });
      const bytes = new Uint8Array(together.buffer);
      // Some 0.02 s of samples every 0.01 s: twice as fast as the clock.
      const step = 4 * channels.length * Math.round(0.02 * samplingRate);
      for (let at = 0; at < bytes.length;) {
        at += await pipe.write(bytes.subarray(at, at + step));
        await new Promise((resolve) => setTimeout(resolve, 10));
      }
      pipe.close();
    })();
    const source = createPipeSource(file(name), {
      raw: { type: "float32", channelCount: channels.length },
      samplingRate,
      channels: Object.fromEntries(
        channels.map(({ role, unit }, k) => [String(k), { role, unit }]),
      ),
    });
    const { value, outputs } = await inCell(() =>
      watch(source, { interval: 0.1, ...options })
    );
    await write;
    expect(value.ended).toBe("source ended");
    return {
      rows: Object.fromEntries(value.rows.map((row) => [row.label, row])),
      page: outputs.at(-2)!.data["text/html"]!,
    };
  }

  it("is the speed of the line", async () => {
    const { rows, page } = await rowsOf("speed", {
      samplingRate: 50e3,
      duration: 2,
      way: (time) => 2e-3 * time,
      feedback: 0.7,
      decibels: 20,
      seed: 5,
    }, { speed: { wavelength: plainWavelength } });
    const { value, unit, standardUncertainty } = rows["speed"]!;
    expect(unit).toBe("m/s");
    expect(Math.abs(value as number / 2e-3 - 1)).toBeLessThan(2e-3);
    expect(standardUncertainty).toBeGreaterThan(0);
    expect(page).toContain("mm/s");
  });

  it("is the displacement, by half a wavelength per fringe", async () => {
    const { rows } = await rowsOf("displacement", {
      samplingRate: 100e3,
      duration: 2,
      way: (time) => 2e-6 * Math.sin(2 * Math.PI * 37 * time),
      feedback: 0.7,
      decibels: 25,
      seed: 5,
    }, { displacement: { wavelength: plainWavelength } });
    const { value, unit } = rows["peak to peak, last block"]!;
    expect(unit).toBe("m");
    // Noise adds to the extremes of many samples.
    expect(Math.abs(value as number - 4e-6)).toBeLessThan(0.05e-6);
    expect(Math.abs(rows["displacement"]!.value as number))
      .toBeLessThan(4.1e-6);
  });

  it("is the distance by the ramps of the last stretch", async () => {
    const current = (time: number) => 0.04 + 0.003 * triangle(50 * time);
    const { rows, page } = await rowsOf("distance", {
      samplingRate: 50e3,
      duration: 2,
      distance: 0.17,
      current,
      drive: { role: "drive current", unit: "A", value: current },
      feedback: 0.7,
      decibels: 25,
      seed: 5,
    }, {
      distance: {
        tuning: {
          tuning: { value: 7e-9, standardUncertainty: 1e-11 },
          wavelength: { value: plainWavelength, standardUncertainty: 1e-10 },
        },
      },
    });
    const { value, unit, standardUncertainty } = rows["distance"]!;
    expect(unit).toBe("m");
    expect(Math.abs(value as number - 0.17)).toBeLessThan(
      3 * standardUncertainty,
    );
    expect(standardUncertainty).toBeLessThan(1e-3);
    expect(page).toContain("170");
  });

  it("is said in words where it is not to be had", async () => {
    const { rows } = await rowsOf("nothing", {
      samplingRate: 50e3,
      duration: 0.5,
      distance: 0.17,
      decibels: 25,
    }, { speed: { wavelength: plainWavelength } });
    expect(rows["speed"]!.value).toContain("no line");
  });
});
