import { box, circle, inks, label, line, type Point, shape } from "./svg.ts";

/** A frame along a part: its middle, and steps along and across it. */
function frameOf(from: Point, to: Point) {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const along: Point = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
  const middle: Point = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];
  /** `a` along the part from its middle, `b` across it to the left of it. */
  const at = (a: number, b = 0): Point => [
    middle[0] + a * along[0] + b * along[1],
    middle[1] + a * along[1] - b * along[0],
  ];
  return { length, at };
}

/** The two leads of a part that is `size` long in the middle. */
function leads(from: Point, to: Point, size: number): string {
  const { at } = frameOf(from, to);
  return line([from, at(-size / 2)]) + line([at(size / 2), to]);
}

/** A resistor, as a rectangle (IEC 60617). */
export function resistor(from: Point, to: Point): string {
  const { at } = frameOf(from, to);
  return leads(from, to, 44) +
    shape([at(-22, 8), at(22, 8), at(22, -8), at(-22, -8)], {
      fill: "#ffffff",
    });
}

/** A capacitor; with `polar` the plate at `from` is marked +. */
export function capacitor(from: Point, to: Point, polar = false): string {
  const { at } = frameOf(from, to);
  const plus = at(-13, 13);
  return leads(from, to, 9) + line([at(-4.5, 13), at(-4.5, -13)], {
    width: 2.4,
  }) +
    line([at(4.5, 13), at(4.5, -13)], { width: 2.4 }) +
    (polar ? label([plus[0], plus[1] + 4], "+", { size: 13 }) : "");
}

/** A diode: `from` is its anode. Arrows leave a laser and reach a photodiode. */
export function diode(
  from: Point,
  to: Point,
  light: "none" | "out" | "in" = "none",
  side: 1 | -1 = 1,
): string {
  const { at } = frameOf(from, to);
  const arrow = (a: number) => {
    const near = at(a, side * 16);
    const far = at(a - 6, side * 34);
    const [tail, tip] = light === "out" ? [near, far] : [far, near];
    return arrowLine(tail, tip, inks.beam);
  };
  return leads(from, to, 20) +
    shape([at(-10, 11), at(-10, -11), at(10)], { fill: "#ffffff" }) +
    line([at(10, 11), at(10, -11)], { width: 2.4 }) +
    (light === "none" ? "" : arrow(-4) + arrow(6));
}

/** A line with a tip at its end. */
export function arrowLine(
  tail: Point,
  tip: Point,
  colour: string = inks.line,
  width = 1.6,
): string {
  const length = Math.hypot(tip[0] - tail[0], tip[1] - tail[1]);
  const x = (tip[0] - tail[0]) / length;
  const y = (tip[1] - tail[1]) / length;
  const back = (side: number): Point => [
    tip[0] - 7 * x + side * 3.5 * y,
    tip[1] - 7 * y - side * 3.5 * x,
  ];
  return line([tail, [tip[0] - 4 * x, tip[1] - 4 * y]], { colour, width }) +
    shape([tip, back(1), back(-1)], { colour, fill: colour, width: 0.5 });
}

/** A battery: `from` is its +. */
export function battery(from: Point, to: Point): string {
  const { at } = frameOf(from, to);
  const plate = (a: number, half: number, width: number) =>
    line([at(a, half), at(a, -half)], { width });
  const plus = at(-20, 16);
  return leads(from, to, 24) + plate(-12, 14, 1.6) + plate(-4, 7, 3.4) +
    plate(4, 14, 1.6) + plate(12, 7, 3.4) +
    label([plus[0], plus[1] + 4], "+", { size: 13 });
}

/** An open switch. */
export function openSwitch(from: Point, to: Point): string {
  const { at } = frameOf(from, to);
  return leads(from, to, 30) + line([at(-15), at(13, 12)]) +
    circle(at(-15), 2.5, { fill: "#ffffff" }) +
    circle(at(15), 2.5, { fill: "#ffffff" });
}

/** A generator of alternating voltage. */
export function generator(from: Point, to: Point): string {
  const { at } = frameOf(from, to);
  const [x, y] = at(0);
  const wave = Array.from({ length: 21 }, (_, k): Point => [
    x - 12 + 1.2 * k,
    y - 6 * Math.sin(2 * Math.PI * k / 20),
  ]);
  return leads(from, to, 44) + circle([x, y], 22, { fill: "#ffffff" }) +
    line(wave);
}

/** A meter in a circle. */
export function meter(from: Point, to: Point, letter: string): string {
  const { at } = frameOf(from, to);
  const [x, y] = at(0);
  return leads(from, to, 36) + circle([x, y], 18, { fill: "#ffffff" }) +
    label([x, y + 5], letter, { size: 15, bold: true });
}

/** Ground: the 0 V of the bench. */
export function ground([x, y]: Point): string {
  return line([[x, y], [x, y + 8]]) +
    [11, 7, 3].map((half, k) =>
      line([[x - half, y + 8 + 4 * k], [x + half, y + 8 + 4 * k]])
    ).join("");
}

/** Wires that meet. */
export function node(at: Point): string {
  return circle(at, 3, { fill: inks.line, width: 0 });
}

/** A place to clip something on. */
export function terminal(at: Point): string {
  return circle(at, 4, { fill: "#ffffff" });
}

/**
 * An operational amplifier; `at` is the middle of its left side.
 *
 * @returns The drawing, and where its leads are.
 */
export function amplifier([x, y]: Point) {
  const half = 44;
  return {
    drawn: shape([[x, y - half], [x, y + half], [x + 80, y]], {
      fill: "#ffffff",
    }) +
      label([x + 12, y - 19], "−", { size: 17 }) +
      label([x + 12, y + 29], "+", { size: 17 }),
    minus: [x, y - 24] as Point,
    plus: [x, y + 24] as Point,
    out: [x + 80, y] as Point,
    upper: [x + 36, y - 24] as Point,
    lower: [x + 36, y + 24] as Point,
  };
}

/** A place on a circuit, named by a letter that the text beside explains. */
export function place([x, y]: Point, letter: string): string {
  return circle([x, y], 9, { fill: "#ffffff", colour: inks.mark }) +
    label([x, y + 4.2], letter, { size: 12, bold: true, colour: inks.mark });
}

/** A cable to a channel of the scope. */
export function channel([x, y]: Point, name: string): string {
  return box([x, y - 13], 44, 26, { fill: inks.field }, 4) +
    label([x + 22, y + 4.5], name, { size: 12, bold: true });
}
