import { type ShownAxis, shownAxis } from "../axis.ts";
import { colours } from "../theme.ts";
import { stackPanels } from "./panels.ts";
import { band, curve, marks, type PlotlyTrace } from "./trace.ts";

/** What {@linkcode fitPanels} draws; all numbers in SI units. */
export interface FitPanelsInput {
  /** Title above the figure. */
  title: string;
  /** Name and unit of the axes. */
  x: { name: string; unit: string };
  y: { name: string; unit: string };
  /** The points. */
  points: { x: ArrayLike<number>; y: ArrayLike<number> };
  /** Standard uncertainty of each y; `null` where not known. */
  uncertainties?: ArrayLike<number> | null;
  /** The fitted curve, in order of x. */
  fitted: { x: ArrayLike<number>; y: ArrayLike<number> };
  /** Confidence band around the curve; `null` for none. */
  band?: {
    x: ArrayLike<number>;
    low: ArrayLike<number>;
    high: ArrayLike<number>;
    name: string;
  } | null;
  /** The band around zero in the panel below; `null` for none. */
  residualBand?: {
    x: ArrayLike<number>;
    low: ArrayLike<number>;
    high: ArrayLike<number>;
    name: string;
  } | null;
  /** Point minus curve, for the panel below. */
  residuals: ArrayLike<number>;
  /** Name and unit of the residuals. @default {"Residual", the unit of y} */
  residual?: { name: string; unit: string };
  /** Standard uncertainty of each residual. @default {uncertainties} */
  residualUncertainties?: ArrayLike<number> | null;
  /** Points that are flagged. @default {none} */
  flagged?: ArrayLike<boolean>;
  /** Name of the points in the legend. @default {"Points"} */
  pointsName?: string;
  /** Name of the curve in the legend. @default {"Fit"} */
  fitName?: string;
}

/**
 * Points, curve and band above, residuals below.
 *
 * @param input Points, curve, band, residuals.
 * @returns Data and layout for plotly.js.
 */
export function fitPanels(
  input: FitPanelsInput,
): { data: PlotlyTrace[]; layout: Record<string, unknown> } {
  const {
    title,
    points,
    fitted,
    residuals,
    uncertainties = null,
    band: around = null,
    residualBand = null,
    pointsName = "Points",
    fitName = "Fit",
    residual = { name: "Residual", unit: input.y.unit },
    residualUncertainties = uncertainties,
    flagged = [],
  } = input;
  const x = shownAxis(input.x.name, points.x, input.x.unit);
  const y = shownAxis(input.y.name, points.y, input.y.unit);
  const rest: ShownAxis = shownAxis(
    residual.name,
    residualBand === null
      ? residuals
      : [...Array.from(residuals), ...Array.from(residualBand.high)],
    residual.unit,
  );
  const blue = colours.blue;
  const flags = (ys: ArrayLike<number>, axis: ShownAxis, panel: number) => {
    const picked = Array.from(
      { length: ys.length },
      (_, k) => k,
    ).filter((k) => flagged[k]);
    return picked.length === 0 ? [] : [marks(
      picked.map((k) => points.x[k]!),
      picked.map((k) => ys[k]!),
      x,
      axis,
      {
        name: "Flagged",
        colour: colours.vermilion,
        symbol: "circle-open",
        size: 14,
        panel,
        legend: panel === 2,
      },
    )];
  };
  return stackPanels([
    {
      y: rest,
      weight: 0.45,
      traces: [
        ...(residualBand === null ? [] : [
          band(
            residualBand.x,
            residualBand.low,
            residualBand.high,
            x,
            rest,
            { name: residualBand.name, colour: colours.vermilion },
          ),
        ]),
        marks(points.x, residuals, x, rest, {
          name: "Residual",
          colour: blue,
          legend: false,
        }, residualUncertainties),
        ...flags(residuals, rest, 1),
      ],
      axis: { zeroline: true, zerolinecolor: colours.vermilion },
    },
    {
      y,
      traces: [
        ...(around === null ? [] : [
          band(around.x, around.low, around.high, x, y, {
            name: around.name,
            colour: colours.vermilion,
            panel: 2,
          }),
        ]),
        curve(fitted.x, fitted.y, x, y, {
          name: fitName,
          colour: colours.vermilion,
          panel: 2,
          width: 1.8,
        }),
        marks(points.x, points.y, x, y, {
          name: residualUncertainties === null
            ? pointsName
            : `${pointsName}, bars: ± u`,
          colour: blue,
          panel: 2,
        }, uncertainties),
        ...flags(points.y, y, 2),
      ],
    },
  ], { title, x });
}
