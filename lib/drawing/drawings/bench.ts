import { arrowLine } from "../circuit.ts";
import {
  badge,
  box,
  circle,
  drawing,
  inks,
  label,
  line,
  type Point,
  shape,
} from "../svg.ts";

/** The parts of the bench by the numbers of the drawing. */
export const benchParts: readonly string[] = [
  "battery supply and series resistor of the laser",
  "laser diode with monitor photodiode, in a mount that sheds heat",
  "lens on a focusing thread",
  "neutral filter, slightly tilted",
  "target: matt white card on a loudspeaker, a carriage or a disc",
  "beam stop behind the target, beam at bench height",
  "amplifier in a metal box, with batteries of its own",
  "function generator: loudspeaker, or laser current through a capacitor",
  "scope: CH1 the amplifier, CH2 the drive",
];

/** The bench from above. */
export function benchDrawing(): string {
  const beam = 118;
  const box_ = (at: Point, width: number, height: number, text: string) =>
    box(at, width, height, { fill: inks.field }, 6) +
    label([at[0] + width / 2, at[1] + height / 2 + 4.5], text, { size: 12 });
  const wire = (points: readonly Point[]) =>
    line(points, { colour: inks.quiet, width: 1.4 });
  return drawing(
    {
      width: 760,
      height: 360,
      title: "The bench, part by part",
      description: benchParts.map((part, index) => `${index + 1}: ${part}.`)
        .join(" "),
    },
    label([150, 34], "one line at bench height: diode, lens, filter, target", {
      size: 12,
      anchor: "start",
      colour: inks.quiet,
    }),
    // Beam
    shape([[196, beam], [262, beam - 20], [262, beam + 20]], {
      colour: inks.beam,
      fill: "#f6d5d0",
      width: 0.8,
    }),
    shape([
      [268, beam - 20],
      [560, beam - 5],
      [560, beam + 5],
      [268, beam + 20],
    ], { colour: inks.beam, fill: "#f6d5d0", width: 0.8 }),
    arrowLine([420, beam - 4], [460, beam - 3], inks.beam),
    arrowLine([460, beam + 5], [420, beam + 5], inks.beam),
    // Supply
    box_([24, 92], 92, 52, "supply"),
    badge([24, 92], "1"),
    wire([[116, 112], [152, 112]]),
    // Diode and mount
    box([152, 84], 20, 68, { fill: inks.faint }, 3),
    box([172, 102], 22, 32, { fill: inks.field }, 4),
    badge([162, 72], "2"),
    // Lens
    shape([
      [265, beam - 30],
      [272, beam - 12],
      [272, beam + 12],
      [265, beam + 30],
      [258, beam + 12],
      [258, beam - 12],
    ], { fill: "#e8f1f8" }),
    badge([265, 72], "3"),
    // Filter
    shape([
      [352, beam - 30],
      [358, beam - 30],
      [366, beam + 30],
      [360, beam + 30],
    ], { fill: "#d9d9d9" }),
    badge([352, 72], "4"),
    // Target
    line([[560, beam - 34], [560, beam + 34]], { width: 4 }),
    shape([[566, beam - 12], [584, beam - 30], [584, beam + 30], [
      566,
      beam + 12,
    ]], { fill: inks.field }),
    box([584, beam - 18], 16, 36, { fill: inks.faint }),
    arrowLine([528, 168], [508, 168]),
    arrowLine([528, 168], [548, 168]),
    badge([560, 66], "5"),
    // Stop
    line([[680, beam - 48], [680, beam + 48]], { width: 6 }),
    badge([702, 72], "6"),
    // Amplifier
    wire([[162, 152], [162, 236]]),
    box_([110, 236], 104, 52, "amplifier"),
    badge([110, 236], "7"),
    // Scope
    box([286, 220], 196, 108, { fill: inks.field }, 6),
    box([298, 232], 116, 84, { fill: "#ffffff" }, 3),
    line(
      Array.from({ length: 59 }, (_, k): Point => {
        const phase = 6 * Math.sin(Math.PI * (k / 29 - 0.5));
        const part = phase - Math.floor(phase);
        return [302 + 1.85 * k, 268 - 22 * (part - 0.5)];
      }),
      { colour: inks.signal, width: 1.4 },
    ),
    line(
      Array.from({ length: 59 }, (_, k): Point => [
        302 + 1.85 * k,
        300 - 8 * Math.sin(Math.PI * (k / 29 - 0.5)),
      ]),
      { colour: inks.mark, width: 1.4 },
    ),
    circle([436, 304], 5, { fill: "#ffffff" }),
    circle([462, 304], 5, { fill: "#ffffff" }),
    label([436, 292], "CH1", { size: 10 }),
    label([462, 292], "CH2", { size: 10 }),
    wire([[214, 262], [252, 262], [252, 344], [436, 344], [436, 309]]),
    badge([482, 220], "9"),
    // Generator
    box_([560, 236], 118, 52, "generator"),
    badge([560, 236], "8"),
    wire([[592, 236], [592, 136]]),
    wire([[560, 272], [524, 272], [524, 344], [462, 344], [462, 309]]),
  );
}
