/** Reading and checking in MB/s: `deno bench -A tests/capture/`. */
import {
  checkCapture,
  createCapture,
  encodeCapture,
  parseCapture,
  type WriteCaptureOptions,
} from "fringebook";

const count = 200_000;
const capture = createCapture([
  {
    name: "monitor",
    role: "monitor signal",
    unit: "V",
    samples: Float64Array.from(
      { length: count },
      (_, n) => Math.sin(n / 50) + Math.sin(n * n) / 100,
    ),
  },
  {
    name: "drive",
    role: "drive current",
    unit: "A",
    samples: Float64Array.from({ length: count }, (_, n) => n / 1e7),
  },
], { samplingRate: 1e6 });

const short = new TextEncoder().encode(
  "time (s),monitor (V),drive (A)\n" +
    Array.from(
      { length: count },
      (_, n) =>
        [n / 1e6, capture.channels[0]!.samples[n]!, n / 1e7]
          .map((value) => value.toFixed(6)).join(","),
    ).join("\n") + "\n",
);

const sized = (bytes: Uint8Array) => `${(bytes.length / 1e6).toFixed(1)} MB`;

Deno.bench(`text, six decimals, ${sized(short)}`, { group: "read" }, () => {
  parseCapture(short);
});

const formats: WriteCaptureOptions[] = [
  { format: "delimited text" },
  { format: "WAV" },
  { format: "NPZ" },
  { format: "SigMF" },
];

for (const options of formats) {
  const bytes = encodeCapture(capture, options);
  const name = `${options.format}, full precision, ${sized(bytes)}`;
  Deno.bench(name, { group: "read" }, () => {
    parseCapture(bytes);
  });
  Deno.bench(name, { group: "write" }, () => {
    encodeCapture(capture, options);
  });
}

Deno.bench(`check of 2 × ${count} samples`, { group: "check" }, () => {
  checkCapture(capture);
});
