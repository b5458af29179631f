import { pointwise } from "fringebook/fit";

/** A NIST StRD problem: data, starts and certified values. */
export interface NistProblem {
  x: number[];
  y: number[];
  starts: [number[], number[]];
  certified: number[];
  standardDeviations: number[];
  residualSumOfSquares: number;
  residualStandardDeviation: number;
}

/**
 * Reads a `.dat` file of the Statistical Reference Datasets of NIST
 * (https://www.itl.nist.gov/div898/strd/, public domain).
 */
export function readNist(name: string): NistProblem {
  const text = Deno.readTextFileSync(
    new URL(`fixtures/nist_strd/${name}.dat`, import.meta.url),
  );
  const lines = text.split(/\r?\n/);
  const rows = lines.flatMap((line) => {
    const match = /^\s*b\d+\s*=\s*(.+)$/.exec(line);
    return match ? [match[1]!.trim().split(/\s+/).map(Number)] : [];
  });
  const range = /Data\s+\(lines (\d+) to (\d+)\)/.exec(text)!;
  const data = lines.slice(Number(range[1]) - 1, Number(range[2]))
    .map((line) => line.trim().split(/\s+/).map(Number));
  const numberAfter = (label: RegExp) => Number(label.exec(text)?.[1] ?? NaN);
  return {
    x: data.map((row) => row[1]!),
    y: data.map((row) => row[0]!),
    starts: [rows.map((row) => row[0]!), rows.map((row) => row[1]!)],
    certified: rows.map((row) => row[2]!),
    standardDeviations: rows.map((row) => row[3]!),
    residualSumOfSquares: numberAfter(/Residual Sum of Squares:\s+(\S+)/i),
    residualStandardDeviation: numberAfter(
      /Residual Standard Deviation:\s+(\S+)/i,
    ),
  };
}

/** Digits that agree: -log10 of the relative error, at most 15. */
export function matchingDigits(value: number, reference: number): number {
  return Math.min(
    15,
    -Math.log10(Math.abs(value - reference) / Math.abs(reference)),
  );
}

const gauss = pointwise((b, x) =>
  b[0]! * Math.exp(-b[1]! * x) +
  b[2]! * Math.exp(-((x - b[3]!) ** 2) / b[4]! ** 2) +
  b[5]! * Math.exp(-((x - b[6]!) ** 2) / b[7]! ** 2)
);
const cubicOverCubic = pointwise((b, x) =>
  (b[0]! + b[1]! * x + b[2]! * x ** 2 + b[3]! * x ** 3) /
  (1 + b[4]! * x + b[5]! * x ** 2 + b[6]! * x ** 3)
);

/** The models as written in the files. */
export const nistModels = {
  Misra1a: pointwise((b, x) => b[0]! * (1 - Math.exp(-b[1]! * x))),
  Misra1b: pointwise((b, x) => b[0]! * (1 - (1 + b[1]! * x / 2) ** -2)),
  Chwirut2: pointwise((b, x) => Math.exp(-b[0]! * x) / (b[1]! + b[2]! * x)),
  Lanczos3: pointwise((b, x) =>
    b[0]! * Math.exp(-b[1]! * x) + b[2]! * Math.exp(-b[3]! * x) +
    b[4]! * Math.exp(-b[5]! * x)
  ),
  Gauss1: gauss,
  Gauss2: gauss,
  Gauss3: gauss,
  DanWood: pointwise((b, x) => b[0]! * x ** b[1]!),
  Hahn1: cubicOverCubic,
  Thurber: cubicOverCubic,
  ENSO: pointwise((b, x) => {
    const tau = 2 * Math.PI * x;
    return b[0]! + b[1]! * Math.cos(tau / 12) + b[2]! * Math.sin(tau / 12) +
      b[4]! * Math.cos(tau / b[3]!) + b[5]! * Math.sin(tau / b[3]!) +
      b[7]! * Math.cos(tau / b[6]!) + b[8]! * Math.sin(tau / b[6]!);
  }),
  MGH09: pointwise((b, x) =>
    b[0]! * (x * x + x * b[1]!) / (x * x + x * b[2]! + b[3]!)
  ),
  MGH10: pointwise((b, x) => b[0]! * Math.exp(b[1]! / (x + b[2]!))),
  Rat42: pointwise((b, x) => b[0]! / (1 + Math.exp(b[1]! - b[2]! * x))),
  Rat43: pointwise((b, x) =>
    b[0]! / (1 + Math.exp(b[1]! - b[2]! * x)) ** (1 / b[3]!)
  ),
  Eckerle4: pointwise((b, x) =>
    b[0]! / b[1]! * Math.exp(-0.5 * ((x - b[2]!) / b[1]!) ** 2)
  ),
  Roszman1: pointwise((b, x) =>
    b[0]! - b[1]! * x - Math.atan(b[2]! / (x - b[3]!)) / Math.PI
  ),
  Bennett5: pointwise((b, x) => b[0]! * (b[1]! + x) ** (-1 / b[2]!)),
  BoxBOD: pointwise((b, x) => b[0]! * (1 - Math.exp(-b[1]! * x))),
} as const;
