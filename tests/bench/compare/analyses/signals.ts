/**
 * The captures that are analysed, made from a fixed seed.
 *
 * @module
 */
import { createRandom } from "fringebook/signal";
import type { DataFolder } from "../data.ts";

/** Samples per second of all signals, in Hz. */
export const samplingRate = 1e6;
/** Wavelength of the invented diode, in m. */
export const wavelength = 650e-9;
const tuning = 8e-9;
const noiseLevel = 0.0224;
const block = 1 << 18;

/** What one sample of each channel is. */
export type Maker = (sample: number, into: Float64Array, at: number) => void;

/** A target that swings by 5 µm at 100 Hz; C = 0.5, α = 5, 30 dB. */
export function swinging(): Maker {
  const psi = Math.atan(5);
  const noise = noiseTable();
  let x = 0;
  return (n, into, at) => {
    const phase = 4 * Math.PI / wavelength * 5e-6 *
      Math.sin(2 * Math.PI * 100 * n / samplingRate);
    for (let k = 0; k < 4; k++) {
      x -= (x + 0.5 * Math.sin(x + psi) - phase) /
        (1 + 0.5 * Math.cos(x + psi));
    }
    into[at] = 2 + Math.cos(x) + noise[(n * 7919) & 0xffff]!;
  };
}

/** A target at 0.4 m, the current a triangle of 50 Hz from 36 to 44 mA. */
function ramping(): Maker {
  const psi = Math.atan(5);
  const noise = noiseTable();
  let x = 0;
  return (n, into, at) => {
    const part = (n * 50 / samplingRate) % 1;
    const current = 0.036 + 0.008 * (1 - Math.abs(2 * part - 1));
    const phase = 4 * Math.PI * 0.4 / (wavelength + tuning * (current - 0.04));
    if (n === 0) x = phase;
    for (let k = 0; k < 4; k++) {
      x -= (x + 0.5 * Math.sin(x + psi) - phase) /
        (1 + 0.5 * Math.cos(x + psi));
    }
    into[at] = 50 * current + 0.2 * Math.cos(x) +
      0.2 * noise[(n * 7919) & 0xffff]!;
    into[at + 1] = current;
  };
}

function noiseTable(): Float64Array {
  const random = createRandom(1);
  return Float64Array.from(
    { length: 1 << 16 },
    () => noiseLevel * random.normal(),
  );
}

/** Signals by name: how many channels, and how they are made. */
const signals = {
  swinging: { channels: 1, make: swinging },
  ramping: { channels: 2, make: ramping },
};

/** Name of a signal. */
export type SignalName = keyof typeof signals;

/** An .npy file of a signal: its path, and what makes it. */
export function signalFile(
  data: DataFolder,
  name: SignalName,
  samples: number,
): { file: string; prepare: () => Promise<void> } {
  const fileName = `${name}_${samples}.npy`;
  return {
    file: data.path(fileName),
    prepare: () => data.make(fileName, (path) => write(path, name, samples)),
  };
}

function write(path: string, name: SignalName, samples: number): void {
  const { channels, make } = signals[name];
  const shape = channels === 1 ? `(${samples},)` : `(${samples}, ${channels})`;
  const head = new Uint8Array(128).fill(32);
  head.set([0x93, 0x4e, 0x55, 0x4d, 0x50, 0x59, 1, 0, 118, 0]);
  const text = `{'descr': '<f8', 'fortran_order': False, 'shape': ${shape}, }`;
  head.set(new TextEncoder().encode(text), 10);
  head[127] = 10;
  const maker = make();
  using file = Deno.openSync(path, { create: true, write: true });
  writeAll(file, head);
  const values = new Float64Array(block * channels);
  for (let from = 0; from < samples; from += block) {
    const count = Math.min(block, samples - from);
    for (let n = 0; n < count; n++) maker(from + n, values, n * channels);
    writeAll(file, new Uint8Array(values.buffer, 0, count * channels * 8));
  }
}

function writeAll(file: Deno.FsFile, bytes: Uint8Array): void {
  for (let at = 0; at < bytes.length;) at += file.writeSync(bytes.subarray(at));
}
