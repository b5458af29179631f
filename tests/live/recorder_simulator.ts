/**
 * A recorder that writes bare int16 samples of two channels to its standard
 * output by the clock: fringes of a vibrating target, and a count of the samples
 * modulo 65536 by which a lost one is seen. Written past the library: the phase
 * of a vibration is 4πA sin(2πft)/λ, two beams give a cosine of it.
 *
 * Run: deno run tests/live/recorder_simulator.ts RATE SECONDS [SPEED]
 *
 * @module
 */
const [rate = 48000, seconds = 10, speed = 1] = Deno.args.map(Number);

/** Length of the stretch that comes again, in s: whole turns of the target. */
const loop = new Float64Array(rate);
let seed = 1;
for (let i = 0; i < rate; i++) {
  // Park, Miller 1988: a noise that needs no library.
  seed = seed * 48271 % 2147483647;
  const time = i / rate;
  const phase = 4 * Math.PI * 2.5e-6 * Math.sin(2 * Math.PI * 40 * time) /
    650e-9;
  loop[i] = 500 * Math.cos(phase) + 20 * (2 * seed / 2147483647 - 1);
}

const start = performance.now();
for (let sent = 0; sent < rate * seconds;) {
  const due = Math.min(
    rate * seconds,
    Math.floor((performance.now() - start) / 1000 * rate * speed),
  );
  const values = new Int16Array(2 * (due - sent));
  for (let i = 0; sent < due; i++, sent++) {
    values[2 * i] = Math.round(loop[sent % rate]!);
    values[2 * i + 1] = sent % 65536 - 32768;
  }
  const bytes = new Uint8Array(values.buffer);
  try {
    for (let at = 0; at < bytes.length;) {
      at += Deno.stdout.writeSync(bytes.subarray(at));
    }
  } catch {
    // The reader has gone.
    Deno.exit(0);
  }
  await new Promise((resolve) => setTimeout(resolve, 10));
}
