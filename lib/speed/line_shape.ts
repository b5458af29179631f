/** Forms of a broadened line. */
export const lineShapes: readonly LineShape[] = ["Gaussian", "Lorentzian"];

/** Form of a broadened line. */
export type LineShape = "Gaussian" | "Lorentzian";

const fourLogTwo = 4 * Math.LN2;

/**
 * A line on a background that is straight in the logarithm. Parameters:
 * centre, ln width (full width at half maximum), ln height, ln background at
 * x = 0, slope of ln background.
 */
export function lineModel(
  shape: LineShape,
): (parameters: readonly number[], x: ArrayLike<number>) => Float64Array {
  return (parameters, x) => {
    const [centre, logWidth, logHeight, logLevel, slope] = parameters as [
      number,
      number,
      number,
      number,
      number,
    ];
    const inverse = Math.exp(-logWidth);
    const height = Math.exp(logHeight);
    const level = Math.exp(logLevel);
    const out = new Float64Array(x.length);
    for (let i = 0; i < out.length; i++) {
      const u = (x[i]! - centre) * inverse;
      const line = shape === "Gaussian"
        ? Math.exp(-fourLogTwo * u * u)
        : 1 / (1 + 4 * u * u);
      out[i] = height * line + level * Math.exp(slope * x[i]!);
    }
    return out;
  };
}

/** Derivatives of {@linkcode lineModel} by its five parameters. */
export function lineDerivatives(
  shape: LineShape,
): (
  parameters: readonly number[],
  x: ArrayLike<number>,
) => readonly Float64Array[] {
  return (parameters, x) => {
    const [centre, logWidth, logHeight, logLevel, slope] = parameters as [
      number,
      number,
      number,
      number,
      number,
    ];
    const inverse = Math.exp(-logWidth);
    const height = Math.exp(logHeight);
    const level = Math.exp(logLevel);
    const columns = Array.from({ length: 5 }, () => new Float64Array(x.length));
    for (let i = 0; i < x.length; i++) {
      const u = (x[i]! - centre) * inverse;
      const line = shape === "Gaussian"
        ? Math.exp(-fourLogTwo * u * u)
        : 1 / (1 + 4 * u * u);
      // d line / d u
      const steep = shape === "Gaussian"
        ? -2 * fourLogTwo * u * line
        : -8 * u * line * line;
      const ground = level * Math.exp(slope * x[i]!);
      columns[0]![i] = -height * steep * inverse;
      columns[1]![i] = -height * steep * u;
      columns[2]![i] = height * line;
      columns[3]![i] = ground;
      columns[4]![i] = ground * x[i]!;
    }
    return columns;
  };
}

/** Area under a line of unit height and unit full width at half maximum. */
export function lineArea(shape: LineShape): number {
  return shape === "Gaussian" ? Math.sqrt(Math.PI / fourLogTwo) : Math.PI / 2;
}
