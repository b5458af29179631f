/**
 * A bench of its own, for what the library says of a stranger's captures: it
 * shares no line with `lib/laser`. φ0 = φF + C sin(φF + arctan α) (Lang and
 * Kobayashi 1980, IEEE J. Quantum Electron. 16, 347), P = P0 (1 + m cos φF), then
 * one amplifier pole, one coupling capacitor, white noise and a converter of 12
 * bits.
 */
import { type Capture, createCapture } from "fringebook";

/** What stands on the bench. */
export interface PlainBench {
  /** Way of the target, in m, at a time in s. */
  readonly way?: (time: number) => number;
  /** Distance at rest, in m. */
  readonly distance?: number;
  /** Diode current, in A, at a time in s. */
  readonly current?: (time: number) => number;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Length, in s. */
  readonly duration: number;
  /** Feedback parameter (1). */
  readonly feedback?: number;
  /** Height of the fringe over the mean power (1); a course for speckle. */
  readonly visibility?: number | ((time: number) => number);
  /** Fringe power over noise power, in dB. */
  readonly decibels?: number;
  /** Amplifier pole over the sampling rate (1). */
  readonly pole?: number;
  /** Corner of the coupling capacitor, in Hz; 0 for none. */
  readonly coupling?: number;
  /** More light or hum, in units of the mean power, at a time in s. */
  readonly stray?: (time: number) => number;
  /** What drives the target or the diode and is recorded as channel 2. */
  readonly drive?: {
    readonly role: "drive current" | "drive voltage" | "other";
    readonly unit: string;
    readonly value: (time: number) => number;
  };
  readonly seed?: number;
}

/** Wavelength of this bench's diode at 40 mA, in m. */
export const plainWavelength = 660e-9;
/** Phase index of the room's air at 20 °C, from a handbook table (1). */
const airIndex = 1.00027;
const tuning = 7e-9; // m/A
const threshold = 0.022; // A
const alpha = 4.2;

/** Uniform numbers in (0, 1): a multiplicative congruence (Park and Miller 1988). */
export function plainRandom(seed: number): () => number {
  let state = (seed * 7919 + 12345) % 2147483647;
  const next = () => (state = state * 48271 % 2147483647) / 2147483647;
  for (let i = 0; i < 20; i++) next();
  return next;
}

/** Standard normal numbers (Box and Muller 1958). */
export function plainNormal(seed: number): () => number {
  const uniform = plainRandom(seed);
  return () =>
    Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
}

/** The capture that a scope would have taken. */
export function plainCapture(bench: PlainBench): Capture {
  const {
    way = () => 0,
    distance = 0.11,
    current = () => 0.04,
    samplingRate,
    duration,
    feedback = 0.7,
    visibility = 0.01,
    decibels = 30,
    pole = 0.25,
    coupling = 0,
    stray = () => 0,
    seed = 1,
  } = bench;
  const count = Math.round(samplingRate * duration);
  const height = typeof visibility === "number" ? () => visibility : visibility;
  const fine = 4;
  const step = 1 / (samplingRate * fine);
  const root = branchFollower(feedback, alpha);
  const mean = 2 * (0.04 - threshold) / 0.018; // V at 40 mA
  const low = 1 - Math.exp(-2 * Math.PI * pole * samplingRate * step);
  const high = Math.exp(-2 * Math.PI * coupling * step);
  const normal = plainNormal(seed);
  const noise = mean * height(duration / 2) / Math.SQRT2 *
    10 ** (-decibels / 20);
  const volts = new Float64Array(count);
  let smooth = NaN, blocked = NaN;
  for (let i = 0; i < count * fine; i++) {
    const t = i * step;
    const amperes = current(t);
    const wavelength = plainWavelength + tuning * (amperes - 0.04);
    const phase = root(
      4 * Math.PI * airIndex * (distance + way(t)) / wavelength,
    );
    const power = mean * ((amperes - threshold) / 0.018) *
        (1 + height(t) * Math.cos(phase)) + mean * stray(t);
    if (i === 0) smooth = blocked = power;
    smooth += low * (power - smooth);
    if (coupling > 0) blocked = smooth + high * (blocked - smooth);
    else blocked = 0;
    if (i % fine === 0) {
      volts[i / fine] = smooth - blocked + noise * normal();
    }
  }
  return createCapture([
    { name: "CH1", role: "monitor signal", unit: "V", samples: convert(volts) },
    ...(bench.drive === undefined ? [] : [{
      name: "CH2",
      role: bench.drive.role,
      unit: bench.drive.unit,
      samples: convert(
        Float64Array.from(
          { length: count },
          (_, i) => bench.drive!.value(i / samplingRate),
        ),
      ),
    }]),
  ], { samplingRate });
}

/** Twelve bits over a range a little wider than the signal. */
function convert(values: Float64Array): Float64Array {
  let low = Infinity, high = -Infinity;
  for (const value of values) {
    if (value < low) low = value;
    if (value > high) high = value;
  }
  const step = 1.2 * (high - low) / 4096 || 1e-3;
  return values.map((value) => Math.round(value / step) * step);
}

/** Follows the stable root φF of the excess-phase equation along φ0. */
function branchFollower(c: number, a: number): (phase: number) => number {
  const psi = Math.atan(a);
  const fold = c > 1 ? Math.acos(-1 / c) : Infinity;
  const excess = (x: number, at: number) => x + c * Math.sin(x + psi) - at;
  let x = NaN;
  return (at) => {
    if (x !== x) x = at;
    let low = at - c - 1e-9, high = at + c + 1e-9;
    if (c > 1) {
      for (;;) {
        const turn = Math.round((x + psi) / (2 * Math.PI)) * 2 * Math.PI - psi;
        low = turn - fold;
        high = turn + fold;
        if (excess(low, at) > 0) x = turn - 2 * Math.PI;
        else if (excess(high, at) < 0) x = turn + 2 * Math.PI;
        else break;
      }
    }
    // Newton's steps, halved into the bracket where they leave it.
    for (let i = 0; i < 60; i++) {
      const f = excess(x, at);
      if (Math.abs(f) < 1e-9) break;
      if (f > 0) high = Math.min(high, x);
      else low = Math.max(low, x);
      const next = x - f / (1 + c * Math.cos(x + psi));
      x = next > low && next < high ? next : (low + high) / 2;
    }
    return x;
  };
}

/** A triangle between -1 and 1 that rises for a part of its period. */
export function triangle(turns: number, rise = 0.5): number {
  const at = turns - Math.floor(turns);
  return at < rise ? 2 * at / rise - 1 : 1 - 2 * (at - rise) / (1 - rise);
}
