/**
 * Mutated files for the readers: seeded, so that each one can be made again.
 *
 * @module
 */
import { gzipSync } from "node:zlib";
import {
  CaptureFormatError,
  createCapture,
  encodeCapture,
  openCaptureStream,
  parseCaptures,
  type ReadCaptureOptions,
} from "fringebook";
import { createRandom } from "fringebook/signal";

const encode = (text: string) => new TextEncoder().encode(text);

const small = createCapture([
  {
    name: "monitor",
    role: "monitor signal",
    unit: "V",
    samples: Float64Array.from({ length: 12 }, (_, n) => Math.sin(n)),
  },
  {
    name: "drive",
    role: "drive current",
    unit: "A",
    samples: Float64Array.from({ length: 12 }, (_, n) => n / 3),
  },
], { samplingRate: 48e3, metadata: { lens: "8 mm" } });

const fixtures = new URL("./fixtures/", import.meta.url);
const stored = (names: readonly string[]) =>
  names.map((name) => Deno.readFileSync(new URL(name, fixtures)));
const written = (format: "WAV" | "NPY" | "NPZ" | "SigMF") =>
  new Uint8Array(encodeCapture(small, { format }));

const texts = [
  "time (s);monitor (mV);drive (mA)\n0;1,5;40\n0,5;2,5;41\n1;-3e-2;42\n",
  "\ufeff# operator: A\r\n# sampling rate: 1 MHz\r\nmonitor (V)\r\n0.1\r\n0.2\r\n",
  "Sample Interval,1e-6\ntime,CH1,CH2\ns,V,mV\n0,1,2\n1e-6,,4\n2e-6,NaN,6\n",
  "0\t0,5\n0,001\t0,7\n0,002\t1.234,9\n0,003\t0,95",
  '"time","a (V)"\n"12:00:00.0","1,5"\n"12:00:00.5","2,5"\n',
  "time (s),a (V)\n0,1\n1,2\n2,3\n3,4\n\ntime (s),a (V)\n0,1\n1,2\n2,3\n3,4\n",
  "time,0,1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16\n" +
  "monitor (V),9,8,7,6,5,4,3,2,1,0,1,2,3,4,5,6,7\n",
  "Record Length,5,,0,0.1\nInterval,0.5,,0.5,0.2\n,,,1,0.3\n,,,1.5,0.4\n",
  '"Trace Name","monitor","drive"\n"Sample Rate","1E6","1E6"\n1.5,2\n3,4\n',
  "segment;time (s);state;a (V)\n0;0;run;1\n0;1;run;2\n1;0;end;3\n1;1;end;4\n",
  "# time (ms) monitor (mV)\n0 1\n1 2\n2 3\n",
  "2026-05-01T12:00:00.0|123456789.123456789e-20|1\n" +
  "2026-05-01T12:00:00.1|0.1|2\n",
];

/** Seed files and options of each format that is fuzzed. */
export const corpora: Readonly<
  Record<string, { seeds: readonly Uint8Array[]; options: ReadCaptureOptions }>
> = {
  text: {
    seeds: [
      ...texts.map(encode),
      new Uint8Array(encodeCapture(small, { format: "delimited text" })),
    ],
    options: {},
  },
  wav: {
    seeds: [
      ...stored(["int16.wav", "int24_extensible.wav", "uint8.wav"]),
      written("WAV"),
      new Uint8Array(encodeCapture(small, { format: "WAV", rf64: true })),
    ],
    options: {},
  },
  npy: {
    seeds: [
      ...stored(["f2.npy", "i2_fortran.npy", "c8.npy", "structured.npy"]),
      written("NPY"),
    ],
    options: { samplingRate: 1000 },
  },
  npz: {
    seeds: [...stored(["stored.npz", "deflated.npz"]), written("NPZ")],
    options: {},
  },
  sigmf: { seeds: [written("SigMF")], options: {} },
  raw: {
    seeds: stored(["f8.npy", "int16.wav"]),
    options: { raw: { type: "int24", channelCount: 3 }, samplingRate: 1 },
  },
  gzip: {
    seeds: [
      ...stored(["short.csv.gz"]),
      new Uint8Array(gzipSync(encode(texts[0]!))),
      new Uint8Array(gzipSync(written("WAV"))),
    ],
    options: {},
  },
};

const tokens = [
  "__proto__",
  "constructor",
  "1e999",
  "-1e-999",
  "NaN",
  "\0",
  "\n",
  "\r\n\r\n",
  ",",
  ";",
  '"',
  "#",
  "999999999999999999999999999999",
  "0x10",
  "time",
  "sampling rate: -1 Hz",
  "dt: 0",
  "{",
  "[[[[[[[[",
  "(1000000000000,)",
  "../../../../etc/passwd",
  "\ufeff",
  "µ",
].map(encode);

const words = [0, 1, 0x7f, 0x80, 0xff, 0x7fffffff, 0x80000000, 0xffffffff];

/** Makes the mutated file number `index` of a corpus. */
export function mutate(
  seeds: readonly Uint8Array[],
  index: number,
): Uint8Array {
  const random = createRandom(index + 1);
  const below = (n: number) => Math.floor(random.uniform() * n);
  let bytes = Array.from(seeds[below(seeds.length)]!);
  const changes = 1 + below(6);
  for (let change = 0; change < changes; change++) {
    // Half of the changes hit the first 96 bytes, where headers are.
    const at = below(
      random.uniform() < 0.5 ? Math.min(96, bytes.length) : bytes.length,
    );
    switch (below(9)) {
      case 0:
        bytes[at] = bytes[at]! ^ (1 << below(8));
        break;
      case 1:
        bytes[at] = below(256);
        break;
      case 2: {
        const word = words[below(words.length)]!;
        for (let byte = 0; byte < 4; byte++) {
          if (at + byte < bytes.length) {
            bytes[at + byte] = (word >>> (8 * byte)) & 255;
          }
        }
        break;
      }
      case 3:
        bytes.splice(at, 1 + below(16));
        break;
      case 4:
        bytes.splice(at, 0, ...tokens[below(tokens.length)]!);
        break;
      case 5:
        bytes.splice(at, 0, ...bytes.slice(at, at + 1 + below(64)));
        break;
      case 6:
        bytes = bytes.slice(0, at);
        break;
      case 7: {
        const other = seeds[below(seeds.length)]!;
        const from = below(other.length);
        bytes.splice(at, 0, ...other.subarray(from, from + below(64)));
        break;
      }
      default:
        for (let byte = at; byte < Math.min(bytes.length, at + 8); byte++) {
          bytes[byte] = 48 + below(10);
        }
    }
    if (bytes.length === 0) break;
  }
  return Uint8Array.from(bytes);
}

/** Most bytes of samples that one byte of a file may turn into. */
const growth = 64;
/** A mutated file of about 1 kB must be done in this time, in ms. */
const slowest = 2000;

/** What was wrong with reading a file; `null` if nothing. */
export function judge(
  bytes: Uint8Array,
  options: ReadCaptureOptions,
): string | null {
  const started = performance.now();
  let size = 0;
  try {
    for (const capture of parseCaptures(bytes, options)) {
      const { samplingRate, channels, sampleCount } = capture;
      if (!(samplingRate > 0 && Number.isFinite(samplingRate))) {
        return `sampling rate ${samplingRate}`;
      }
      size += channels.length * sampleCount * 8;
    }
  } catch (error) {
    if (!(error instanceof CaptureFormatError)) {
      return `${(error as Error).stack ?? error}`;
    }
    if (error.message.length > 1000) return "message of over 1000 characters";
  }
  // Deflate makes up to 1032 bytes of one before the text or samples grow.
  const compressed = bytes[0] === 0x1f || bytes[0] === 0x50;
  const limit = (bytes.length + 64) * growth * (compressed ? 1032 : 1);
  if (size > limit) return `${size} bytes of samples of ${bytes.length}`;
  const time = performance.now() - started;
  return time > slowest ? `took ${Math.round(time)} ms` : null;
}

/** The same for the block-wise reader. */
export async function judgeStream(
  bytes: Uint8Array,
  options: ReadCaptureOptions,
): Promise<string | null> {
  try {
    using stream = await openCaptureStream(bytes, options);
    let next = 0;
    for await (const block of stream.blocks({ blockLength: 5, overlap: 2 })) {
      if (block.start + block.overlap !== next) return "blocks do not join";
      next = block.start + block.capture.sampleCount;
    }
    return null;
  } catch (error) {
    return error instanceof CaptureFormatError
      ? null
      : `${(error as Error).stack ?? error}`;
  }
}
