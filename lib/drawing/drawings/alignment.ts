import { simulateCapture } from "../../laser/mod.ts";
import { screenGrid, screenTrace } from "../scope_screen.ts";
import { badge, drawing, inks, label } from "../svg.ts";

/** One step of the alignment. */
export interface AlignmentStep {
  /** What is to be seen on the scope. */
  readonly see: string;
  /** What it means or what to turn, two short lines. */
  readonly turn: readonly [string, string];
}

/** The steps by the numbers of the drawing. */
export const alignmentSteps: readonly AlignmentStep[] = [
  {
    see: "flat, little noise",
    turn: ["No light comes back:", "steer the spot onto the card"],
  },
  {
    see: "teeth when you tap the table",
    turn: ["Light comes back:", "turn the lens for the tallest"],
  },
  {
    see: "small and round",
    turn: ["C about 0.1, noisy: nearer,", "whiter, or focus again"],
  },
  {
    see: "teeth lean, all alike",
    turn: ["C about 0.7: this is right,", "change nothing"],
  },
  {
    see: "few tall jumps, fewer teeth",
    turn: ["C about 8: too much light:", "filter, or out of focus"],
  },
  {
    see: "tall here, small there",
    turn: ["Speckle: move the spot", "by its own width"],
  },
];

interface Scene {
  readonly feedbackParameter: number;
  /** Displacement, in m. */
  readonly motion: (time: number) => number;
  /** Noise over the height of the fringes at C = 1, in divisions. */
  readonly noise: number;
  /** Height of the fringes, from the middle, in divisions. */
  readonly height: (place: number) => number;
}

const samplingRate = 100e3;
const duration = 0.01;
const wave = (amplitude: number) => (time: number) =>
  -amplitude * Math.cos(2 * Math.PI * 100 * time);

const scenes: readonly Scene[] = [
  {
    feedbackParameter: 0.7,
    motion: () => 0,
    noise: 0.08,
    height: () => 0,
  },
  {
    feedbackParameter: 0.7,
    motion: (time) =>
      time < 0.002 ? 0 : 1.1e-6 * Math.exp(-(time - 0.002) / 0.003) *
        Math.sin(2 * Math.PI * 330 * (time - 0.002)),
    noise: 0.05,
    height: () => 2,
  },
  {
    feedbackParameter: 0.1,
    motion: wave(0.9e-6),
    noise: 0.14,
    height: () => 0.5,
  },
  {
    feedbackParameter: 0.7,
    motion: wave(0.9e-6),
    noise: 0.06,
    height: () => 2.2,
  },
  {
    feedbackParameter: 8,
    motion: wave(0.9e-6),
    noise: 0.06,
    height: () => 3,
  },
  {
    feedbackParameter: 0.7,
    motion: wave(0.9e-6),
    noise: 0.06,
    height: (place) => 1.4 + 1.1 * Math.cos(2 * Math.PI * place),
  },
];

/** What the screen shows, in divisions from its middle. */
function traceOf(scene: Scene, seed: number): Float64Array {
  const { motion, feedbackParameter, noise, height } = scene;
  const capture = simulateCapture({
    distance: (time) => 0.1 + motion(time),
    samplingRate,
    duration,
    feedbackParameter,
    drive: null,
  });
  const samples = capture.channels[0]!.samples;
  const kept = Float64Array.from(
    { length: 400 },
    (_, i) => samples[Math.floor(i * samples.length / 400)]!,
  );
  let [low, high] = [Infinity, -Infinity];
  for (const value of kept) {
    low = Math.min(low, value);
    high = Math.max(high, value);
  }
  const middle = (low + high) / 2;
  const half = Math.max((high - low) / 2, 1e-12);
  const random = scatter(seed);
  return kept.map((value, i) =>
    height(i / 399) * (high > low ? (value - middle) / half : 0) +
    noise * random()
  );
}

/** A few hundred numbers that scatter about 0 with about 1, always the same. */
function scatter(seed: number): () => number {
  let state = seed;
  const next = () => {
    state = (state * 16807) % 2147483647;
    return state / 2147483647;
  };
  return () => 2 * (next() + next() + next() - 1.5);
}

/** The screens of the alignment, step by step. */
export function alignmentDrawing(): string {
  const division = 21;
  const shown = alignmentSteps.map(({ see, turn }, index) => {
    const x = 24 + (index % 3) * 246;
    const y = 52 + Math.floor(index / 3) * 250;
    const screen = { x, y, division, across: 10, down: 7 };
    return [
      screenGrid(screen, { ticks: false }),
      screenTrace(screen, {
        divisions: traceOf(scenes[index]!, 4711 + index),
      }),
      badge([x, y], String(index + 1)),
      label([x + 20, y - 12], see, { anchor: "start", size: 12, bold: true }),
      label([x, y + 7 * division + 20], turn, { anchor: "start", size: 12 }),
    ].join("\n");
  });
  return drawing(
    {
      width: 760,
      height: 516,
      title: "Alignment on the scope screen",
      description: "Six scope screens, computed with known feedback. " +
        alignmentSteps.map(({ see, turn }, index) =>
          `${index + 1}: ${see}. ${turn.join(" ")}.`
        ).join(" "),
    },
    ...shown,
    label([736, 506], "1 ms per division", {
      anchor: "end",
      size: 11,
      colour: inks.quiet,
    }),
  );
}
