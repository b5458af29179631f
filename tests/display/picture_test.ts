import { createCapture, drawPicture, type Figure } from "fringebook";
import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";

const root = new URL("../../", import.meta.url).pathname;

/** The dependency cache, as `deno info` tells it. */
async function dependencyCache(): Promise<string> {
  const { stdout } = await new Deno.Command(Deno.execPath(), {
    args: ["info", "--json"],
    stdout: "piped",
  }).output();
  return JSON.parse(new TextDecoder().decode(stdout)).denoDir;
}

describe("drawPicture()", () => {
  it("works in a process that may only read the project and the dependency cache", async () => {
    const code = `
import { createFigure, drawPicture } from "fringebook";
const figure = createFigure({ data: [{ y: [1, 2] }], caption: "A line" });
const { png } = await drawPicture(figure);
console.log(png.length);
`;
    const file = await Deno.makeTempFile({ suffix: ".ts" });
    try {
      await Deno.writeTextFile(file, code);
      const { stdout, stderr, success } = await new Deno.Command(
        Deno.execPath(),
        {
          args: [
            "run",
            "--no-prompt",
            "--cached-only",
            "--config",
            `${root}deno.json`,
            `--allow-read=${root},${await dependencyCache()}`,
            file,
          ],
          stdout: "piped",
          stderr: "piped",
        },
      ).output();
      expect([success, new TextDecoder().decode(stderr)]).toEqual([true, ""]);
      expect(Number(new TextDecoder().decode(stdout))).toBeGreaterThan(1000);
    } finally {
      await Deno.remove(file);
    }
  });

  it("draws a trace of 10 million samples small and with its one spike", async () => {
    const random = createRandom(1);
    const samples = new Float32Array(10_000_000);
    for (let k = 0; k < 100_000; k++) samples[k * 100] = random.normal() * 0.01;
    samples[7_654_321] = 1;
    const capture = createCapture([{
      name: "monitor",
      role: "monitor signal",
      unit: "V",
      samples,
    }], { samplingRate: 1e6 });
    const figure = capture.figure() as Figure;
    const { png } = await drawPicture(figure);
    // The spike stands in the envelope of the whole record.
    const traces = figure.data as { y: number[] }[];
    expect(Math.max(...traces.flatMap(({ y }) => y))).toBe(1);
    // Sizes as stored: the picture in base64.
    const size = JSON.stringify(figure).length + 4 / 3 * png.length;
    expect(size).toBeLessThan(300_000);
  });
});
