import { rampCurrent, simulateCapture } from "../../laser/mod.ts";
import { cursor, screenGrid, screenTrace } from "../scope_screen.ts";
import { drawing, inks, label, line } from "../svg.ts";

/** The stroke that is counted on the page: known truth, invented. */
export const drawnStroke = {
  wavelength: 650e-9,
  /** Amplitude, in m. */
  amplitude: 1.03e-6,
  /** In Hz. */
  frequency: 100,
  feedbackParameter: 0.7,
  refractiveIndex: 1.00027,
} as const;

/** The ramp that is counted on the page: known truth, invented. */
export const drawnRamp = {
  wavelength: 650e-9,
  /** dλ/dI, in m/A. */
  tuning: 8e-9,
  /** Optical distance, in m. */
  distance: 0.018,
  low: 0.035,
  high: 0.045,
  /** In Hz. */
  frequency: 10,
  refractiveIndex: 1.00027,
} as const;

const count = 900;

function thinned(samples: ArrayLike<number>, height: number): Float64Array {
  const kept = Float64Array.from(
    { length: count },
    (_, i) => samples[Math.floor(i * samples.length / count)]!,
  );
  let [low, high] = [Infinity, -Infinity];
  for (const value of kept) {
    low = Math.min(low, value);
    high = Math.max(high, value);
  }
  return kept.map((value) => height * (2 * (value - low) / (high - low) - 1));
}

const screen = { x: 20, y: 44, division: 46, across: 10, down: 6 };
const right = screen.x + screen.across * screen.division + 18;

/** Places of the tops of the teeth, those that reach the full height. */
function topsOf(samples: ArrayLike<number>): number[] {
  const top = Math.max(...Array.from(samples));
  const tops: number[] = [];
  for (let i = 1; i + 1 < samples.length; i++) {
    const value = samples[i]!;
    if (
      value > samples[i - 1]! && value >= samples[i + 1]! && value > 0.9 * top
    ) tops.push(i / samples.length);
  }
  return tops;
}

/** Places where a trace rises steepest, one per fringe. */
function steepest(samples: ArrayLike<number>): number[] {
  const rise = Array.from(
    { length: samples.length - 2 },
    (_, i) => samples[i + 2]! - samples[i]!,
  );
  const half = Math.max(...rise) / 2;
  return rise.flatMap((value, i) =>
    value > half && value > (rise[i - 1] ?? 0) && value >= (rise[i + 1] ?? 0)
      ? [(i + 1) / samples.length]
      : []
  );
}

/** A stroke of a loudspeaker on a screen, its teeth counted. */
export function countedStrokeDrawing(): string {
  const { amplitude, frequency, feedbackParameter } = drawnStroke;
  const { refractiveIndex } = drawnStroke;
  // The screen: 1 ms per division, a whole period.
  const at = (time: number) =>
    0.1 - amplitude * Math.cos(2 * Math.PI * frequency * (time - 0.0013));
  const capture = simulateCapture({
    distance: at,
    samplingRate: 900e3,
    duration: 0.01,
    feedbackParameter,
    refractiveIndex,
    drive: null,
  });
  const toX = (time: number) => screen.x + time * 1e3 * screen.division;
  const turns = [0.0013, 0.0063] as const;
  const trace = thinned(capture.channels[0]!.samples, 2);
  const places = topsOf(trace).map((place) => 0.01 * place)
    .filter((time) => time > turns[0] + 0.2e-3 && time < turns[1] - 0.2e-3);
  return drawing(
    {
      width: 760,
      height: 356,
      title: "A stroke counted on a scope screen",
      description:
        `A scope screen with 1 ms per division. Cursors stand on two turning points, at 1.3 ms and 6.3 ms; between them ${places.length} teeth are numbered.`,
    },
    screenGrid(screen),
    screenTrace(screen, { divisions: trace }),
    cursor(screen, toX(turns[0])),
    cursor(screen, toX(turns[1])),
    ...places.map((time, index) =>
      label([toX(time), screen.y + 30], String(index + 1), {
        size: 12,
        bold: true,
        colour: inks.mark,
      })
    ),
    label([toX(turns[0]), 32], "1.3 ms", { size: 12, colour: inks.mark }),
    label([toX(turns[1]), 32], "6.3 ms", { size: 12, colour: inks.mark }),
    label([right, 70], [
      "1 ms per division",
      "",
      `${places.length} teeth from turning`,
      "point to turning point",
      "",
      "cursors on the two",
      "turning points, where",
      "the teeth turn round",
      "",
      "a time is read to a tenth",
      "of a division:",
      "u = 0.06 ms",
    ], { anchor: "start", size: 12 }),
  );
}

/** A rising flank on a screen, its edges counted. */
export function countedRampDrawing(): string {
  const { tuning, distance, low, high, frequency, wavelength } = drawnRamp;
  const capture = simulateCapture({
    distance,
    current: rampCurrent({ low, high, frequency }),
    samplingRate: 18e3,
    duration: 0.05,
    feedbackParameter: 0.9,
    modulationIndex: 0.05,
    refractiveIndex: drawnRamp.refractiveIndex,
    diode: {
      wavelength,
      tuning,
      referenceCurrent: (low + high) / 2,
    },
    drive: null,
  });
  const toX = (current: number) =>
    screen.x + (current - low) / (high - low) * screen.across * screen.division;
  const trace = thinned(capture.channels[0]!.samples, 2.2);
  const edges = steepest(trace).map((place) => low + (high - low) * place);
  const ends = [edges[0]!, edges.at(-1)!];
  return drawing(
    {
      width: 760,
      height: 370,
      title: "A ramp counted on a scope screen",
      description:
        `The rising flank of a ramp from 35 to 45 mA over ten divisions, 1 mA each. ${edges.length} edges are numbered; cursors stand on the first and the last of them.`,
    },
    screenGrid(screen),
    screenTrace(screen, { divisions: trace }),
    ...ends.map((current) => cursor(screen, toX(current))),
    ...edges.map((current, index) =>
      label([toX(current) - 9, screen.y + 18], String(index + 1), {
        size: 12,
        bold: true,
        colour: inks.mark,
      })
    ),
    ...ends.map((current) =>
      label([toX(current), 32], `${(1e3 * current).toFixed(1)} mA`, {
        size: 12,
        colour: inks.mark,
      })
    ),
    ...Array.from({ length: 11 }, (_, i) => {
      const x = screen.x + i * screen.division;
      return line([[x, 320], [x, 324]], { width: 1 }) +
        (i % 2 === 0
          ? label([x, 338], String(35 + i), { size: 11, colour: inks.quiet })
          : "");
    }),
    label([screen.x + 230, 358], "current of the diode, in mA", {
      size: 11,
      colour: inks.quiet,
    }),
    label([right, 70], [
      "1 mA per division",
      "",
      `${edges.length} edges are`,
      `${edges.length - 1} whole steps`,
      "",
      "cursors on the first",
      "and the last edge",
      "",
      "a current is read to a",
      "tenth of a division:",
      "u = 0.06 mA",
    ], { anchor: "start", size: 12 }),
  );
}
