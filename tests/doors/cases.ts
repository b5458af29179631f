/**
 * Captures that were once taken for something else, each of several benches: other
 * amplitudes, feedback, noise, amplifier poles, seeds.
 */
import { type Capture, createCapture, simulateCapture } from "fringebook";
import { rampCurrent } from "fringebook";
import {
  type PlainBench,
  plainCapture,
  plainNormal,
  triangle,
} from "./plain_bench.ts";

const sine = (turns: number) => Math.sin(2 * Math.PI * turns);

/** A ramp at 60 mm as a file: the drive recorded in V, 10 mA/V. */
export function fileInVolts(heading = "CH2 (V)"): Uint8Array {
  const made = simulateCapture({
    distance: 0.06,
    current: rampCurrent({ low: 0.034, high: 0.044, frequency: 10 }),
    samplingRate: 20e3,
    duration: 0.2,
    noise: { signalToNoiseRatio: 30 },
  });
  const [monitor, drive] = made.channels;
  const rows = Array.from(
    monitor!.samples,
    (value, i) =>
      `${i / 20e3},${value.toFixed(7)},${
        (drive!.samples[i]! / 0.01).toFixed(7)
      }`,
  );
  return new TextEncoder().encode(
    `time (s),CH1 (V),${heading}\n${rows.join("\n")}\n`,
  );
}

/** A surface that runs with 29.4 mm/s under 78°. */
export function runningSurface(): Capture {
  const along = 29.4e-3 * Math.cos(78 * Math.PI / 180);
  return simulateCapture({
    distance: (time) => 0.1 + along * time,
    samplingRate: 200e3,
    duration: 0.05,
    feedbackParameter: 0.7,
    noise: { signalToNoiseRatio: 20 },
    drive: null,
  });
}

/** A resting target while the current is swept, and no channel says so. */
export function restingWhileSwept(): Capture[] {
  const forms = [
    (turns: number) => triangle(turns),
    sine,
    (turns: number) => triangle(turns, 0.05),
    (turns: number) => triangle(turns, 0.3),
  ];
  return forms.flatMap((form, k) =>
    [0, 5].map((coupling) =>
      plainCapture({
        samplingRate: 50e3,
        duration: 0.1,
        distance: [0.11, 0.3, 0.2, 0.15][k]!,
        current: (t) => 0.04 + 0.003 * form(47 * t + 0.13),
        feedback: [0.3, 1.5, 0.8, 2.5][k]!,
        coupling,
        seed: k + 1,
      })
    )
  );
}

/** The same under a small sine, whose level moves as little as the fringes. */
export function restingUnderSmallSine(): Capture[] {
  return [200, 500].map((frequency, k) =>
    plainCapture({
      samplingRate: 50e3,
      duration: 0.1,
      distance: 0.2,
      current: (t) => 0.04 + 0.0002 * sine(frequency * t + 0.1),
      feedback: [0.3, 1.5][k]!,
      seed: k + 1,
    })
  );
}

/** A sine of the current so near to the diode that no fringe shows on it. */
export function restingWithoutFringe(): Capture {
  return plainCapture({
    samplingRate: 50e3,
    duration: 0.1,
    distance: 0.005,
    current: (t) => 0.04 + 0.0005 * sine(900 * t),
    visibility: 1e-5,
    decibels: -30,
  });
}

/** A card waved slowly: light that comes and goes. */
export function wavedCard(): Capture[] {
  return [1.3, 2.1, 4].map((rate, k) =>
    plainCapture({
      samplingRate: 5e3,
      duration: 4,
      feedback: 0.1,
      visibility: 0.001,
      decibels: 0,
      stray: (t) =>
        0.1 * sine(rate * t) + 0.06 * sine(0.7 * t) + 0.03 * sine(5.3 * t),
      seed: k + 1,
    })
  );
}

/** A loudspeaker at rest: with the noise of the room, and with hum. */
export function restingSpeaker(): Capture[] {
  return [1, 2, 3].flatMap((seed) => {
    const noise = plainNormal(seed);
    return [
      plainCapture({
        samplingRate: 20e3,
        duration: 0.5,
        decibels: 20,
        way: (t) => 30e-9 * sine(11 * t) + 20e-9 * sine(3 * t),
        coupling: 2,
        drive: {
          role: "drive voltage",
          unit: "V",
          value: () => 1e-3 * noise(),
        },
        seed,
      }),
      plainCapture({
        samplingRate: 20e3,
        duration: 0.5,
        visibility: 1e-4,
        decibels: 0,
        stray: (t) => 1e-3 * sine(50 * t + seed / 7) + 2e-4 * sine(150 * t),
        seed,
      }),
    ];
  });
}

/** A motor that runs at 1 mm/s and turns within some 50 ms; 300 000 samples. */
export function reversingMotor(): Capture {
  let [way, last] = [0, 0];
  return plainCapture({
    samplingRate: 100e3,
    duration: 3,
    way: (t) => {
      way += 1e-3 * Math.tanh(5 * sine(1.1 * t + 0.1)) * (t - last);
      last = t;
      return way;
    },
    feedback: 0.8,
    decibels: 25,
  });
}

/** A ring-down from 1 µm at 60 Hz with a time constant of 70 ms, after a rest. */
export const ringing = { frequency: 60, timeConstant: 0.07, way: 1e-6 };

/** Records that rest before the release. */
export function ringDownAfterRest(): Capture[] {
  const { frequency, timeConstant, way } = ringing;
  return [
    { release: 0.02, feedback: 0.8, decibels: 30, pole: 0.25 },
    { release: 0.05, feedback: 1.5, decibels: 25, pole: 1e4 },
  ].map(({ release, ...bench }, k) =>
    plainCapture({
      ...bench,
      samplingRate: 15e3,
      duration: release + 0.15,
      way: (t) => {
        const since = t - release;
        return since < 0 ? way : way * Math.exp(-since / timeConstant) *
          Math.cos(2 * Math.PI * frequency * since);
      },
      seed: k + 1,
    })
  );
}

/** A target driven by a square wave, with what its edges look like. */
export interface SquareCase {
  readonly name: string;
  readonly capture: Capture;
  /** Peak-to-peak value, in m. */
  readonly peakToPeak: number;
}

/** How the target follows one edge of a square drive from -1 to 1. */
const edges: Readonly<Record<string, (since: number, long: number) => number>> =
  {
    "a tangent": (since, long) => Math.tanh(4 * (since / long - 1)),
    "half a cosine": (since, long) =>
      since > 2 * long ? 1 : -Math.cos(Math.PI / 2 * since / long),
    "a lag": (since, long) => 1 - 2 * Math.exp(-since / long),
  };

/**
 * Square drives: by the form of the edge, its fastest fringes in samples per
 * fringe, the feedback, the noise and the amplifier's pole.
 */
export function squareDrives(
  benches: readonly {
    readonly edge: keyof typeof edges;
    /** Samples per fringe where they come fastest. */
    readonly samples: number;
    readonly feedback: number;
    readonly decibels: number;
    readonly pole: number;
    readonly amplitude: number;
    readonly withDrive?: boolean;
  }[],
): SquareCase[] {
  const samplingRate = 50e3;
  const frequency = 40;
  return benches.map((bench, k) => {
    const { edge, samples, feedback, decibels, pole, amplitude } = bench;
    const speed = samplingRate / samples * 330e-9;
    // The steepest slope of each edge, of amplitude over `long`.
    const steepest = {
      "a tangent": 4,
      "half a cosine": Math.PI / 2,
      "a lag": 2,
    };
    const long = steepest[edge as keyof typeof steepest] * amplitude / speed;
    const half = 0.5 / frequency;
    const form = edges[edge]!;
    let [low, high] = [Infinity, -Infinity];
    const way = (t: number) => {
      const turns = t / half + 0.37;
      const side = Math.floor(turns) % 2 === 0 ? 1 : -1;
      const value = side * amplitude *
        form((turns - Math.floor(turns)) * half, long);
      low = Math.min(low, value);
      high = Math.max(high, value);
      return value;
    };
    const capture = plainCapture({
      samplingRate,
      duration: 2.3 / frequency,
      way,
      feedback,
      decibels,
      pole,
      ...(bench.withDrive === true
        ? {
          drive: {
            role: "drive voltage",
            unit: "V",
            value: (t) => Math.floor(t / half + 0.37) % 2 === 0 ? 5 : 0,
          },
        } as Pick<PlainBench, "drive">
        : {}),
      seed: k + 1,
    });
    return {
      name:
        `${edge}, ${samples} samples per fringe, C ${feedback}, ${decibels} dB, pole ${pole}`,
      capture,
      peakToPeak: high - low,
    };
  });
}

/** A target that goes slowly one way and fast back. */
export function lopsidedMotion(rise: number, seed: number): Capture {
  return plainCapture({
    samplingRate: 100e3,
    duration: 0.06,
    way: (t) => 3e-6 * triangle(40 * t + 0.1 * seed, rise),
    feedback: [0.3, 0.8, 1.5][seed % 3]!,
    seed,
  });
}

/** The current of a lopsided ramp, and a capture with it as its drive. */
export function lopsidedRamp(rise: number): Capture {
  const current = (t: number) => 0.04 + 0.003 * triangle(40 * t, rise);
  return plainCapture({
    samplingRate: 100e3,
    duration: 0.1,
    distance: 0.12,
    current,
    drive: { role: "drive current", unit: "A", value: current },
    feedback: 0.8,
  });
}

/** A vibration of 3 µm whose record starts mid-swing. */
export function startsMidSwing(): Capture[] {
  return [1, 2, 3.5].map((start, k) =>
    plainCapture({
      samplingRate: 100e3,
      duration: 0.026,
      way: (t) => 3e-6 * Math.sin(547 * t + start),
      feedback: 0.7,
      seed: k + 1,
    })
  );
}

/** A ramp and a vibration, each with its drive. */
export function withDrive(): Capture[] {
  const ramp = (t: number) => 0.04 + 0.003 * triangle(20 * t + 0.1);
  return [
    plainCapture({
      samplingRate: 50e3,
      duration: 0.2,
      distance: 0.2,
      current: ramp,
      drive: { role: "drive current", unit: "A", value: ramp },
    }),
    plainCapture({
      samplingRate: 50e3,
      duration: 0.2,
      way: (t) => 3e-6 * sine(47 * t),
      drive: {
        role: "drive voltage",
        unit: "V",
        value: (t) => 0.5 * sine(47 * t + 0.3),
      },
    }),
  ];
}

/** The same capture with the roles of its two channels the other way round. */
export function swapped(capture: Capture): Capture {
  const [monitor, drive] = capture.channels;
  return createCapture([
    { ...drive!, role: "monitor signal" },
    { ...monitor!, role: drive!.role },
  ], { samplingRate: capture.samplingRate });
}
