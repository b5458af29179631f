/**
 * A spectrogram of 10 million samples, paired with SciPy's in the same run,
 * and a live-sized block of 2^16 samples.
 *
 * The pair is run one after the other, several times in turn, and the medians
 * are printed before `deno bench` measures our side alone.
 */
import { createRandom, spectrogram, welch } from "fringebook/signal";

const count = 10_000_000;
const random = createRandom(1);
const record = Float64Array.from(
  { length: count },
  (_, n) => Math.sin(0.3 * n) + random.uniform() - 0.5,
);
const options = { samplingRate: 1e6, segmentLength: 1024, overlap: 0.5 };

const script = `
import sys, time
import numpy, scipy, scipy.signal
x = numpy.sin(0.3 * numpy.arange(${count})) + numpy.random.default_rng(1).random(${count}) - 0.5
print(scipy.__version__, flush=True)
for line in sys.stdin:
    begin = time.perf_counter()
    scipy.signal.spectrogram(x, 1e6, window="hann", nperseg=1024, noverlap=512)
    print(time.perf_counter() - begin, flush=True)
`;

async function pairedWithScipy(rounds: number): Promise<void> {
  const child = new Deno.Command("/usr/bin/python3", {
    args: ["-c", script],
    stdin: "piped",
    stdout: "piped",
    stderr: "null",
  }).spawn();
  const reader = child.stdout.pipeThrough(new TextDecoderStream()).getReader();
  const writer = child.stdin.getWriter();
  const { value: version } = await reader.read();
  if (version === undefined) {
    console.log("SciPy is not installed here: no pair is measured");
    return;
  }
  const ours: number[] = [];
  const theirs: number[] = [];
  for (let round = 0; round < rounds; round++) {
    const begin = performance.now();
    spectrogram(record, options);
    ours.push((performance.now() - begin) / 1000);
    await writer.write(new TextEncoder().encode("go\n"));
    theirs.push(Number((await reader.read()).value));
  }
  await writer.close();
  await child.status;
  const median = (values: number[]) =>
    values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)]!;
  console.log(
    `10 M samples, segments of 1024, half overlapped, median of ${rounds}: ` +
      `ours ${median(ours).toFixed(3)} s, ` +
      `SciPy ${version.trim()} ${median(theirs).toFixed(3)} s, ` +
      `ratio ${(median(ours) / median(theirs)).toFixed(2)}`,
  );
}

await pairedWithScipy(7);

Deno.bench("spectrogram of 10 million samples", { n: 3, warmup: 1 }, () => {
  spectrogram(record, options);
});

const block = record.subarray(0, 1 << 16);
Deno.bench("averaged spectrum of 65 536 samples", () => {
  welch(block, options);
});
Deno.bench("spectrogram of 65 536 samples", () => {
  spectrogram(block, options);
});
