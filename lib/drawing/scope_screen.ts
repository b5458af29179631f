import { box, inks, line, type Point } from "./svg.ts";

/** Where a screen stands and how large it is, in CSS pixels. */
export interface ScreenPlace {
  readonly x: number;
  readonly y: number;
  /** Side of one division. */
  readonly division: number;
  /** @default {10} */
  readonly across?: number;
  /** @default {8} */
  readonly down?: number;
}

/** How the grid is drawn. */
export interface GridStyle {
  /** Fifths of a division along the middle lines, as scopes have them. */
  readonly ticks?: boolean;
  readonly colour?: string;
}

/** The grid of a scope screen, 10 by 8 divisions, with fifths on its middle lines. */
export function screenGrid(
  { x, y, division, across = 10, down = 8 }: ScreenPlace,
  { ticks = true, colour = inks.faint }: GridStyle = {},
): string {
  const width = across * division;
  const height = down * division;
  const thin = { colour, width: 0.8 };
  const grid: string[] = [
    box([x, y], width, height, { fill: "#ffffff", width: 0 }),
  ];
  for (let i = 1; i < across; i++) {
    const at = x + i * division;
    grid.push(line([[at, y], [at, y + height]], thin));
  }
  for (let i = 1; i < down; i++) {
    const at = y + i * division;
    grid.push(line([[x, at], [x + width, at]], thin));
  }
  if (ticks) {
    const middleX = x + width / 2;
    const middleY = y + height / 2;
    const tick = 0.1 * division;
    const dark = { colour: inks.quiet, width: 0.8 };
    for (let i = 1; i < 5 * across; i++) {
      const at = x + i * division / 5;
      grid.push(line([[at, middleY - tick], [at, middleY + tick]], dark));
    }
    for (let i = 1; i < 5 * down; i++) {
      const at = y + i * division / 5;
      grid.push(line([[middleX - tick, at], [middleX + tick, at]], dark));
    }
  }
  grid.push(box([x, y], width, height, { width: 1.4 }));
  return grid.join("\n");
}

/** A trace to be laid onto a screen. */
export interface ScreenTrace {
  /** Samples over the whole width, in divisions from the middle line. */
  readonly divisions: ArrayLike<number>;
  /** @default {inks.signal} */
  readonly colour?: string;
}

/** Samples as a line on the screen; what leaves the screen is held at its edge. */
export function screenTrace(
  { x, y, division, across = 10, down = 8 }: ScreenPlace,
  { divisions, colour = inks.signal }: ScreenTrace,
): string {
  const width = across * division;
  const middle = y + down * division / 2;
  const most = down / 2 - 0.05;
  const count = divisions.length;
  const points = Array.from({ length: count }, (_, i): Point => [
    x + width * i / (count - 1),
    middle - division * Math.max(-most, Math.min(most, divisions[i]!)),
  ]);
  return line(
    points.map(([px, py]): Point => [
      Math.round(10 * px) / 10,
      Math.round(10 * py) / 10,
    ]),
    { colour, width: 1.4 },
  );
}

/** An upright cursor across a screen. */
export function cursor(
  { y, division, down = 8 }: ScreenPlace,
  at: number,
): string {
  return line([[at, y], [at, y + down * division]], {
    colour: inks.mark,
    dash: "5 4",
    width: 1.4,
  });
}
