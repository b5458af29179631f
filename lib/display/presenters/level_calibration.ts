import type { LevelCalibration, LevelMeasurement } from "../../level/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import { band, curve, marks, stackPanels, uprights } from "../figures/mod.ts";
import { formatNumber } from "../format_number.ts";
import { colours } from "../theme.ts";
import { headline, row } from "./rows.ts";

registerPresenter<LevelCalibration>("level.calibration", {
  report: (calibration) => ({
    title: "Level against distance",
    headlines: [],
    rows: [
      row("nearest distance", calibration.distanceRange.low, "m"),
      row("farthest distance", calibration.distanceRange.high, "m"),
      row("distances", calibration.diagnostics.points.length),
      ...calibration.branches.map(({ direction, distances, levels }, k) =>
        row(
          `stretch ${k + 1} begins at`,
          distances.low,
          "m",
          `${direction} to ${inUnit(distances.high, "m", 4)} by ${
            inUnit(levels.high - levels.low, calibration.unit, 3)
          }`,
        )
      ),
      row(
        "repeatability of a setting",
        calibration.repeatability,
        calibration.unit,
        {
          stated: "stated",
          repeats: "from distances set more than once",
          scatter: "from the scatter about the curve",
        }[calibration.diagnostics.repeatabilityFrom],
      ),
      ...(calibration.emptyLevel === null ? [] : [
        row("level without a target", calibration.emptyLevel, calibration.unit),
      ]),
    ],
    figures: [{
      name: "calibration",
      caption:
        "Level against known distance with the curve of each stretch and its ± 2 u; below, the standard uncertainty of a distance",
      draw: () => calibrationFigure(calibration),
    }],
    method:
      "Monotone curve through the points, apart for each stretch over which the level only rises or only falls.",
  }),
  rows: ({ diagnostics }) => diagnostics.points.map((point) => ({ ...point })),
});

registerPresenter<LevelMeasurement>("level.level", {
  report: (found) => {
    const { calibration, candidates } = found.diagnostics;
    return {
      title: "Level of the monitor current",
      headlines: [
        ...(found.distance === null
          ? []
          : [headline("distance by the level", found.distance)]),
        headline("level", found.level),
      ],
      rows: [
        row("distance", found.finding),
        row("fringes and noise, rms", found.deviation, found.level.unit),
        ...(calibration === null ? [] : [
          row(
            "standard uncertainty that counts",
            found.diagnostics.levelStandardUncertainty,
            found.level.unit,
            "of the mean and of a setting",
          ),
        ]),
        ...candidates.map(({ low, high }, k) =>
          row(
            `possible distance ${k + 1}, from`,
            low,
            "m",
            `to ${inUnit(high, "m", 4)}`,
          )
        ),
      ],
      figures: calibration === null ? [] : [{
        name: "level",
        caption: "The level on the curve, and the distances that it may mean",
        draw: () => levelFigure(found, calibration),
      }],
      method:
        "Mean of the record; the distance is that at which the calibrated curve has the level.",
    };
  },
});

function inUnit(value: number, unit: string, digits: number): string {
  return formatNumber(value, { unit, digits });
}

/** Places along a stretch, with level and uncertainty. */
function along({ branches }: LevelCalibration) {
  return branches.map(({ curve, distances, uncertaintyAt }) => {
    const { low, high } = distances;
    const x = Array.from(
      { length: 61 },
      (_, k) => low + (high - low) * k / 60,
    );
    return {
      x,
      y: x.map((at) => curve.at(at)),
      u: x.map((at) => uncertaintyAt(at)),
      slope: x.map((at) => Math.abs(curve.slopeAt(at))),
    };
  });
}

function curveTraces(
  calibration: LevelCalibration,
  x: ReturnType<typeof shownAxis>,
  y: ReturnType<typeof shownAxis>,
  panel: number,
) {
  const { points } = calibration.diagnostics;
  const stretches = along(calibration);
  return [
    ...stretches.map((each, k) =>
      band(
        each.x,
        each.y.map((value, i) => value - 2 * each.u[i]!),
        each.y.map((value, i) => value + 2 * each.u[i]!),
        x,
        y,
        { name: "± 2 u", colour: colours.vermilion, panel, legend: k === 0 },
      )
    ),
    ...stretches.map((each, k) =>
      curve(each.x, each.y, x, y, {
        name: "Curve",
        colour: colours.vermilion,
        panel,
        width: 1.8,
        legend: k === 0,
      })
    ),
    marks(
      points.map(({ distance }) => distance),
      points.map(({ level }) => level),
      x,
      y,
      { name: "Known distances", colour: colours.blue, panel },
    ),
  ];
}

function calibrationFigure(calibration: LevelCalibration) {
  const { points } = calibration.diagnostics;
  const x = shownAxis(
    "Known distance",
    points.map(({ distance }) => distance),
    "m",
  );
  const y = shownAxis(
    "Level",
    points.map(({ level }) => level),
    calibration.unit,
  );
  const spread = calibration.distanceRange.high - calibration.distanceRange.low;
  const stretches = along(calibration).map((each) => ({
    x: each.x,
    // Where the curve is flat there is no distance to be uncertain of.
    u: each.x.map((_, i) => {
      const u = Math.hypot(each.u[i]!, calibration.repeatability) /
        each.slope[i]!;
      return u < spread / 4 ? u : NaN;
    }),
  }));
  const shown = extremes(stretches.map(({ u }) => u));
  const below = shownAxis("u(distance)", [0, shown[1]], "m");
  return stackPanels([
    {
      y: below,
      weight: 0.5,
      axis: { rangemode: "tozero" },
      traces: stretches.map((each) =>
        curve(each.x, each.u, x, below, {
          name: "u of a distance",
          colour: colours.grey,
          legend: false,
        })
      ),
    },
    { y, traces: curveTraces(calibration, x, y, 2) },
  ], { title: "Level against distance", x });
}

function levelFigure(found: LevelMeasurement, calibration: LevelCalibration) {
  const { points } = calibration.diagnostics;
  const { correctedLevel, candidates } = found.diagnostics;
  const places = points.map(({ distance }) => distance);
  const x = shownAxis("Distance", places, "m");
  const y = shownAxis(
    "Level",
    extremes([points.map(({ level }) => level), [correctedLevel]]),
    found.level.unit,
  );
  const ends = [Math.min(...places), Math.max(...places)];
  return stackPanels([{
    y,
    traces: [
      ...curveTraces(calibration, x, y, 1),
      curve(ends, [correctedLevel, correctedLevel], x, y, {
        name: "This level",
        colour: colours.green,
        dash: "dash",
      }),
    ],
  }], {
    title: found.distance === null
      ? "Distance not determined"
      : "Distance by the level",
    x,
    layout: {
      shapes: candidates.flatMap(({ low, high }) =>
        uprights([low, high], x, colours.green)
      ),
    },
  });
}
