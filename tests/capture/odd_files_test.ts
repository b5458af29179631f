import { describe, expect, it } from "vitest";
import { gzipSync } from "node:zlib";
import {
  type Capture,
  encodeCapture,
  openCaptureStream,
  parseCapture,
  readCapture,
} from "fringebook";
import { createCapture } from "fringebook";

const encode = (text: string) => new TextEncoder().encode(text);
const rows = (end: string, count = 20, first = 0) =>
  Array.from(
    { length: count },
    (_, index) => `${(first + index) / 1000},${((first + index) % 7) / 10}`,
  ).join(end) + end;
const heading = "time (s),monitor (V)";
const warning = (capture: Capture, code: string) =>
  capture.warnings.find((item) => item.code === code)?.message ?? "none";

/** Runs a body with the path of a new file. */
async function withFile(
  bytes: Uint8Array,
  body: (path: string) => Promise<void>,
) {
  const path = await Deno.makeTempFile();
  try {
    await Deno.writeFile(path, bytes);
    await body(path);
  } finally {
    await Deno.remove(path);
  }
}

describe("line ends", () => {
  for (
    const [name, text] of [
      ["carriage returns alone", `${heading}\r${rows("\r")}`],
      [
        "line feeds, then carriage returns",
        `${heading}\n${rows("\n", 10)}${rows("\r", 10, 10)}`,
      ],
      [
        "CR LF, then carriage returns",
        `${heading}\r\n${rows("\r\n", 10)}${rows("\r", 10, 10)}`,
      ],
    ] as const
  ) {
    it(`of ${name} are all line ends, and that is said`, async () => {
      const plain = parseCapture(encode(`${heading}\n${rows("\n")}`));
      await withFile(encode(text), async (path) => {
        for (
          const capture of [parseCapture(encode(text)), await readCapture(path)]
        ) {
          expect(capture.channels[0]!.samples)
            .toEqual(plain.channels[0]!.samples);
          expect(capture.channels[0]!.unit).toBe("V");
          expect(warning(capture, "line-ends")).toContain("carriage returns");
        }
        using stream = await openCaptureStream(path);
        expect(stream.warnings.map(({ code }) => code)).toContain("line-ends");
        const samples: number[] = [];
        for await (const { capture } of stream.blocks({ blockLength: 7 })) {
          samples.push(...capture.channels[0]!.samples);
        }
        expect(samples).toEqual(Array.from(plain.channels[0]!.samples));
      });
    });
  }
  it("of CR LF need no word", () => {
    const capture = parseCapture(encode(`${heading}\r\n${rows("\r\n")}`));
    expect(warning(capture, "line-ends")).toBe("none");
  });
  it("that change far into a file are refused with the line", () => {
    const text = `${heading}\n${rows("\n", 20000)}20,1\r20.001,2\n20.002,3\n`;
    expect(() => parseCapture(encode(text)))
      .toThrow("line 20002 holds carriage returns");
  });
});

describe("rows above the first that can be read", () => {
  for (
    const [name, lines] of [
      ["text", "0,OVER\n0.001,OVER\n"],
      ["too few fields", "0\n0.001\n"],
      ["too many fields", "0,1,9\n0.001,2,9\n"],
    ] as const
  ) {
    it(`with ${name} are left out by name, and the heading keeps its place`, () => {
      const capture = parseCapture(
        encode(`${heading}\n${lines}${rows("\n", 20, 2)}`),
      );
      expect(capture.sampleCount).toBe(20);
      expect(capture.channels[0]!.unit).toBe("V");
      expect(capture.samplingRate).toBeCloseTo(1000, 6);
      expect(warning(capture, "rows-left-out")).toContain("line 2");
      expect(warning(capture, "rows-left-out")).toContain("line 3");
    });
  }
});

describe("sampling rates at which nothing samples", () => {
  for (const rate of [1e-9, 1e16, 1e30]) {
    it(`are named: ${rate} Hz`, async () => {
      const text = `sampling rate: ${rate} Hz\nmonitor (V)\n1\n2\n3\n4\n`;
      const capture = parseCapture(encode(text));
      expect(warning(capture, "sampling-rate-impossible")).toContain(`${rate}`);
      using stream = await openCaptureStream(encode(text));
      expect(stream.warnings.map(({ code }) => code))
        .toContain("sampling-rate-impossible");
    });
  }
  it("and real ones are not: 1 Hz, 256 GHz", () => {
    for (const samplingRate of [1, 256e9]) {
      const capture = parseCapture(encode("m (V)\n1\n2\n"), { samplingRate });
      expect(warning(capture, "sampling-rate-impossible")).toBe("none");
    }
  });
});

describe("a WAV file that contradicts itself", () => {
  // Microsoft, Multimedia Programming Interface and Data Specifications 1.0
  // (1991), "WAVE": bytes per second = rate × bytes per sample frame.
  const file = (
    change: (view: DataView, bytes: Uint8Array) => void,
    extra = 0,
  ) => {
    const bytes = new Uint8Array(244 + extra);
    const view = new DataView(bytes.buffer);
    bytes.set(encode("RIFF----WAVEfmt "));
    bytes.set(encode("data"), 36);
    view.setUint32(4, 236 + extra, true);
    view.setUint32(16, 16, true);
    view.setUint16(20, 1, true);
    view.setUint16(22, 1, true);
    view.setUint32(24, 48000, true);
    view.setUint32(28, 96000, true);
    view.setUint16(32, 2, true);
    view.setUint16(34, 16, true);
    view.setUint32(40, 200, true);
    change(view, bytes);
    return parseCapture(bytes);
  };
  it("and one that does not is read without a word on it", () => {
    const codes = file(() => {}).warnings.map(({ code }) => code);
    expect(codes).toEqual(["role-assumed"]);
  });
  for (
    const [code, change, extra] of [
      ["rate-disagrees", (view: DataView) => view.setUint32(28, 88200, true)],
      [
        "sampling-rate-impossible",
        (view: DataView) => view.setUint32(24, 0xffffffff, true),
      ],
      ["size-disagrees", (view: DataView) => view.setUint32(4, 10, true)],
      ["odd-size", (view: DataView) => view.setUint32(40, 199, true)],
      ["truncated", (view: DataView) => view.setUint32(40, 9999, true)],
      [
        "bytes-left-out",
        (view: DataView, bytes: Uint8Array) => {
          view.setUint32(40, 100, true);
          bytes.fill(0x80, 144);
        },
      ],
    ] as [string, (view: DataView, bytes: Uint8Array) => void, number?][]
  ) {
    it(`says so: ${code}`, () => {
      expect(file(change, extra).warnings.map((item) => item.code))
        .toContain(code);
    });
  }
});

describe("files that only seem small", () => {
  const bomb = new Uint8Array(gzipSync(new Uint8Array(50_000_000).fill(48)));
  it("are not unpacked beyond a hundred times their size: gzip", async () => {
    expect(() => parseCapture(bomb)).toThrow("more than 100 times");
    await withFile(bomb, async (path) => {
      await expect(readCapture(path)).rejects.toThrow("more than 100 times");
      await expect(openCaptureStream(path)).rejects
        .toThrow("more than 100 times");
    });
  });
  it("are unpacked where the caller names a size, or the file is small", async () => {
    const text = encode(`${heading}\n` + rows("\n", 5000));
    const zeros = encode(`monitor (V)\n` + "0\n".repeat(100_000));
    for (const bytes of [text, zeros]) {
      await withFile(new Uint8Array(gzipSync(bytes)), async (path) => {
        const read = await readCapture(path, { samplingRate: 1000 });
        expect(read.sampleCount).toBe(bytes === text ? 5000 : 100_000);
        // The hash is that of the file, as other tools find it.
        const digest = await crypto.subtle.digest(
          "SHA-256",
          await Deno.readFile(path),
        );
        expect(read.source.sha256).toBe(new Uint8Array(digest).toHex());
      });
    }
  });
});

describe("what is no file", () => {
  it("is refused at once by every reader: a pipe, a device, a folder", async () => {
    const folder = await Deno.makeTempDir();
    try {
      const pipe = `${folder}/pipe.csv`;
      await new Deno.Command("mkfifo", { args: [pipe] }).output();
      for (
        const [path, word] of [
          [pipe, "a pipe"],
          ["/dev/zero", "a device"],
          [folder, "a folder"],
        ] as const
      ) {
        for (const read of [readCapture, openCaptureStream]) {
          await expect(read(path)).rejects.toThrow(word);
        }
      }
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });
});

describe("captures written by the library", () => {
  it("are read without a word on line ends, sizes and rates", () => {
    const capture = createCapture([{
      name: "monitor",
      role: "monitor signal",
      unit: "V",
      samples: Float64Array.from({ length: 100 }, (_, index) => index % 9),
    }], { samplingRate: 1e5 });
    for (const format of ["delimited text", "WAV", "NPZ"] as const) {
      expect(parseCapture(encodeCapture(capture, { format })).warnings)
        .toEqual([]);
    }
  });
});
