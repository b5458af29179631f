import { createHash } from "node:crypto";
import { describe, expect, it } from "vitest";
import {
  type Capture,
  type ReadCaptureOptions,
  readCaptures,
} from "fringebook";
import { createRandom } from "fringebook/signal";

const plain = (item: Capture) => ({
  channels: item.channels.map(({ name, samples }) => ({
    name,
    // Digest of the bits, so that NaN and -0 count.
    count: samples.length,
    bits: createHash("sha256").update(
      new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength),
    ).digest("hex"),
  })),
  samplingRate: item.samplingRate,
  source: item.source,
  warnings: item.warnings,
});

/** What reading a text gives with so many threads: captures or the message. */
async function read(path: string, threads: number): Promise<unknown> {
  const options: ReadCaptureOptions = {
    threads,
    fileName: "a",
    format: "delimited text",
  };
  try {
    return (await readCaptures(path, options)).map(plain);
  } catch (error) {
    return (error as Error).message;
  }
}

async function compare(text: string): Promise<unknown> {
  const path = await Deno.makeTempFile();
  try {
    await Deno.writeTextFile(path, text);
    const alone = await read(path, 1);
    expect(await read(path, 3)).toEqual(alone);
    return alone;
  } finally {
    await Deno.remove(path);
  }
}

const heading = "time (s),a (V),b (A)\n";
const random = createRandom(9);

/** Some 7 MB: four pieces of 2 MiB. */
function lines(): string[] {
  return Array.from(
    { length: 120_000 },
    (_, n) =>
      `${n / 1e6},${random.normal()},${random.normal()},\n`.replace(
        /,\n/,
        "\n",
      ),
  );
}

describe("a text file parsed in several threads", () => {
  it("gives the same bits as in one", async () => {
    const result = await compare(heading + lines().join(""));
    expect(result).toHaveLength(1);
  });
  it("keeps blank lines, remarks, missing values and a cut-off end", async () => {
    const rows = lines();
    for (let n = 100; n < rows.length; n += 7_001) rows[n] += "\n# remark\n\n";
    for (let n = 50; n < rows.length; n += 3_001) rows[n] = `${n / 1e6},,NaN\n`;
    await compare(heading + rows.join("") + "0.12,1");
  });
  it("finds the same records wherever their headings lie", async () => {
    const rows = lines();
    for (const at of [30_000, 60_000, 90_000]) {
      rows[at] = `\n${heading}remark of the recorder\n`;
    }
    const result = await compare(heading + rows.join(""));
    expect(result).toHaveLength(4);
  });
  it("finds records told by blank lines at any place, edges of pieces too", async () => {
    // Rows of 16 bytes: a piece of 2 MiB ends with a row, so that the blank
    // line begins the next piece.
    const first = "a (V),b (A)   \n\n";
    const row = (n: number) =>
      `${String(n).padStart(7, "0")},${n % 10}.00000\n`;
    const rows = Array.from({ length: 300_000 }, (_, n) => row(n));
    for (const at of [2 ** 17, 2 ** 18 - 1]) rows[at] = " ".repeat(15) + "\n";
    const path = "# sampling rate: 1 MHz\n" + first + rows.join("");
    await compare(path);
  });
  it("names the same line where text stands for a number", async () => {
    for (const at of [5_000, 50_000, 110_000]) {
      const rows = lines();
      rows[at] = "0.1,oops,3\n";
      const message = await compare(heading + rows.join(""));
      expect(message).toContain(`line ${at + 2} has text`);
    }
  });
  it("falls back to one thread for a line longer than a piece may end in", async () => {
    const rows = lines();
    rows[40_000] = `# ${"x".repeat(3e6)}\n`;
    await compare(heading + rows.join(""));
  });
  it("needs at least one thread", async () => {
    for (const threads of [0, 1.5, 65]) {
      await expect(readCaptures(new Uint8Array(1), { threads })).rejects
        .toThrow(
          "'threads' must be a whole number from 1 to 64",
        );
    }
  });
});
