import { colours } from "fringebook/display";
import { describe, expect, it } from "vitest";

type Rgb = [number, number, number];

function rgb(hex: string): Rgb {
  const value = parseInt(hex.slice(1), 16);
  return [value >> 16, value >> 8 & 255, value & 255].map((v) =>
    v / 255
  ) as Rgb;
}

const linear = (v: number) =>
  v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;

/** Relative luminance, WCAG 2.1. */
function luminance(hex: string): number {
  const [r, g, b] = rgb(hex).map(linear) as Rgb;
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

function contrast(a: string, b: string): number {
  const [x, y] = [luminance(a), luminance(b)];
  return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
}

/**
 * Full colour-blindness as matrices on linear RGB: Machado, Oliveira and
 * Fernandes 2009, IEEE Trans. Vis. Comput. Graph. 15, 1291, severity 1.0.
 */
const visions: Record<string, number[][]> = {
  normal: [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
  protanopia: [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
  ],
  deuteranopia: [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.01182, 0.04294, 0.968881],
  ],
};

/** CIELAB (D65) of a colour as a person with this vision sees it. */
function lab(hex: string, matrix: number[][]): Rgb {
  const seen = rgb(hex).map(linear);
  const [r, g, b] = matrix.map((row) =>
    Math.min(1, Math.max(0, row.reduce((sum, m, k) => sum + m * seen[k]!, 0)))
  ) as Rgb;
  const f = (t: number) => t > 0.008856 ? Math.cbrt(t) : 7.787 * t + 16 / 116;
  const x = f((0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505);
  const y = f(0.2126 * r + 0.7152 * g + 0.0722 * b);
  const z = f((0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089);
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)];
}

describe("the theme", () => {
  it("has lines with a contrast of 3:1 or more on white (WCAG 2.1, 1.4.11)", () => {
    for (const colour of Object.values(colours)) {
      expect(contrast(colour, "#ffffff")).toBeGreaterThanOrEqual(3);
    }
  });

  it("has a pair of main colours that stay apart for every kind of vision", () => {
    for (const matrix of Object.values(visions)) {
      const [a, b] = [
        lab(colours.blue, matrix),
        lab(colours.vermilion, matrix),
      ];
      // ΔE of CIE 1976; 2.3 is just noticeable, 40 is plainly another colour.
      expect(Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]))
        .toBeGreaterThan(40);
    }
  });

  it("has no two colours that any of these visions takes for the same", () => {
    const names = Object.keys(colours) as (keyof typeof colours)[];
    for (const [vision, matrix] of Object.entries(visions)) {
      for (const a of names) {
        for (const b of names) {
          if (a >= b) continue;
          const [p, q] = [lab(colours[a], matrix), lab(colours[b], matrix)];
          const distance = Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
          if (distance < 10) {
            throw new Error(
              `${a} and ${b} look alike: ${distance} (${vision})`,
            );
          }
        }
      }
    }
  });
});
