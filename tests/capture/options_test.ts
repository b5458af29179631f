import { describe, expect, it } from "vitest";
import {
  createCapture,
  encodeCapture,
  findChannel,
  openCaptureStream,
  parseCapture,
  readCapture,
} from "fringebook";

const bytes = new TextEncoder().encode("t (s),a (V)\n0,1\n1,2\n2,3\n");

const message = (options: unknown) => {
  try {
    parseCapture(bytes, options as Record<never, never>);
    return "no error";
  } catch (error) {
    return `${(error as Error).name}: ${(error as Error).message}`;
  }
};

describe("options of the readers", () => {
  it("that do not exist are refused, with the one that was meant", () => {
    expect(message({ samplingrate: 5 })).toBe(
      "TypeError: Cannot read a capture as there is no option 'samplingrate'. Did you mean 'samplingRate'?",
    );
    expect(message({ sampleRate: 5 })).toContain("'samplingRate'");
    expect(message({ colour: 5 })).toContain("There are format, samplingRate");
    expect(message({ channels: { a: { units: "V" } } })).toContain(
      "no option of channel 'a': 'units'. Did you mean 'unit'?",
    );
    expect(message({ channels: { a: "monitor" } })).toContain("no role");
    expect(message({ channels: { a: { role: "drive curent" } } })).toContain(
      "Did you mean 'drive current'?",
    );
    expect(message({ channels: { a: { scale: 0 } } })).toContain("RangeError");
  });
  it("name a source that is no file", async () => {
    const failure = async (promise: Promise<unknown>) => {
      try {
        await promise;
        return "no error";
      } catch (error) {
        return (error as Error).message;
      }
    };
    expect(await failure(readCapture("/no/such/file.csv"))).toBe(
      "Cannot read '/no/such/file.csv' as there is no such file",
    );
    expect(await failure(openCaptureStream("/no/such/file.csv"))).toContain(
      "no such file",
    );
    expect(await failure(readCapture(Deno.cwd()))).toContain("is a folder");
    expect(await failure(readCapture(5 as unknown as string))).toContain(
      "give a path",
    );
  });
  it("turn a drive in volts into the current that flows, in every format, whole and in blocks", async () => {
    // Ohm's law at a generator's 2 mA/V beside a standing 40 mA.
    const volts = [-1, -0.5, 0, 0.5, 1];
    const amperes = [0.038, 0.039, 0.04, 0.041, 0.042];
    const samples = Float64Array.from(volts);
    const capture = createCapture([
      { name: "CH1", role: "monitor signal", unit: "V", samples },
      { name: "CH2", role: "drive voltage", unit: "V", samples },
    ], { samplingRate: 1000 });
    const drive = {
      role: "drive current",
      currentPerVoltage: "2mA/V",
      currentOffset: "40mA",
    } as const;
    const files: [Uint8Array, Record<string, typeof drive>][] = [
      [
        new TextEncoder().encode(
          "Sample interval: 1 ms\nCH1 (V),CH2 (V)\n" +
            volts.map((value) => `${value},${value}\n`).join(""),
        ),
        { CH2: drive },
      ],
      [encodeCapture(capture, { format: "SigMF" }), {
        CH2: drive,
      }],
    ];
    for (const [bytes, channels] of files) {
      const options = { channels } as Parameters<typeof parseCapture>[1];
      const read = findChannel(parseCapture(bytes, options), "drive current")!;
      expect(read.unit).toBe("A");
      amperes.forEach((value, i) =>
        expect(read.samples[i]).toBeCloseTo(value, 12)
      );
      const stream = await openCaptureStream(bytes, options);
      for await (const { capture } of stream.blocks({ blockLength: 2 })) {
        const { samples } = findChannel(capture, "drive current")!;
        for (const value of samples) {
          expect(
            amperes.some((each) => Math.abs(each - value) < 1e-12),
          ).toBe(true);
        }
      }
    }
  });
});
