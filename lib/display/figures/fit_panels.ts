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
  /** Point minus curve, for the panel below. */
  residuals: ArrayLike<number>;
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
    pointsName = "Points",
    fitName = "Fit",
  } = input;
  const x = shownAxis(input.x.name, points.x, input.x.unit);
  const y = shownAxis(input.y.name, points.y, input.y.unit);
  const rest: ShownAxis = shownAxis("Residual", residuals, input.y.unit);
  const blue = colours.blue;
  return stackPanels([
    {
      y: rest,
      weight: 0.45,
      traces: [
        marks(points.x, residuals, x, rest, {
          name: "Residual",
          colour: blue,
          legend: false,
        }, uncertainties),
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
          name: pointsName,
          colour: blue,
          panel: 2,
        }, uncertainties),
      ],
    },
  ], { title, x });
}
