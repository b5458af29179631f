/**
 * Reading speed beside pandas' C parser, NumPy and SciPy, measured in turns on
 * the same files: `deno run -A tests/capture/pairs/pairs.ts [PYTHON] [MEGASAMPLES]`.
 * Prints one row per file: MB/s of both by wall time (best round), and the
 * median over rounds of the ratio of the two times in the same round.
 *
 * @module
 */
import process from "node:process";
import { readCapture } from "fringebook";

const python = Deno.args[0] ?? "python3";
const megasamples = Deno.args[1] ?? "1";
const rounds = 9;
const here = new URL(".", import.meta.url).pathname;
const folder = await Deno.makeTempDir();

try {
  const made = await new Deno.Command(python, {
    args: [`${here}make_files.py`, folder, megasamples],
  }).output();
  if (!made.success) throw new Error(new TextDecoder().decode(made.stderr));
  const reference = new Deno.Command(python, {
    args: [`${here}reference.py`],
    stdin: "piped",
    stdout: "piped",
  }).spawn();
  const writer = reference.stdin.getWriter();
  const reader = reference.stdout.pipeThrough(new TextDecoderStream())
    .getReader();
  const cpu = () => {
    const { user, system } = process.cpuUsage();
    return (user + system) / 1e6;
  };
  const theirs = async (path: string): Promise<[number, number]> => {
    await writer.write(new TextEncoder().encode(`${path}\n`));
    let line = "";
    while (!line.endsWith("\n")) line += (await reader.read()).value ?? "\n";
    const [wall, used] = line.trim().split(" ").map(Number);
    return [wall!, used!];
  };
  const ours = async (path: string): Promise<[number, number]> => {
    const started = performance.now();
    const before = cpu();
    await readCapture(path, { samplingRate: 1e6 });
    return [(performance.now() - started) / 1000, cpu() - before];
  };
  console.log(
    "file          MB   ours MB/s  theirs MB/s  wall ratio  CPU ratio",
  );
  const names = [
    "short.csv",
    "exponent.csv",
    "full.csv",
    "comma.csv",
    "one.npy",
    "two.npy",
    "int16.wav",
    "float32.wav",
  ];
  for (const name of names) {
    const path = `${folder}/${name}`;
    const size = (await Deno.stat(path)).size / 1e6;
    const pairs: [[number, number], [number, number]][] = [];
    for (let round = -1; round < rounds; round++) {
      // Taking turns in who goes first; round -1 warms both up.
      const first = round % 2 === 0 ? await ours(path) : await theirs(path);
      const second = round % 2 === 0 ? await theirs(path) : await ours(path);
      if (round < 0) continue;
      pairs.push(round % 2 === 0 ? [first, second] : [second, first]);
    }
    const median = (values: number[]) =>
      values.sort((a, b) => a - b)[values.length >> 1]!;
    const best = (at: 0 | 1) => Math.min(...pairs.map((pair) => pair[at][0]));
    console.log([
      name.padEnd(12),
      size.toFixed(0).padStart(4),
      (size / best(0)).toFixed(0).padStart(10),
      (size / best(1)).toFixed(0).padStart(12),
      median(pairs.map(([a, b]) => b[0] / a[0])).toFixed(2).padStart(11),
      median(pairs.map(([a, b]) => b[1] / a[1])).toFixed(2).padStart(10),
    ].join(" "));
  }
  console.log(
    "ratio: their time / our time in the same round; above 1 we lead",
  );
  await writer.close();
} finally {
  await Deno.remove(folder, { recursive: true });
}
