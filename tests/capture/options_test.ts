import { describe, expect, it } from "vitest";
import { openCaptureStream, parseCapture, readCapture } from "fringebook";

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
});
