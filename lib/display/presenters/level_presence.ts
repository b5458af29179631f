import type { Presence, PresenceCalibration } from "../../level/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import { band, curve, marks, stackPanels } from "../figures/mod.ts";
import { formatNumber } from "../format_number.ts";
import { colours } from "../theme.ts";
import { headline, percentRow, quantityRow, row } from "./rows.ts";

registerPresenter<PresenceCalibration>("level.threshold", {
  report: (made) => ({
    title: "Threshold for presence",
    headlines: [headline("level without a target", made.emptyLevel)],
    rows: [
      row("presence begins at", made.threshold, made.unit),
      row("presence ends at", made.release, made.unit),
      row(
        "a target makes the level",
        made.change === "rise" ? "rise" : "fall",
      ),
      row("averaged over", made.averagingTime, "s"),
      row("noise of an average", made.noise, made.unit),
      row("threshold, in standard deviations of it", made.margin),
      row(
        "time between false alarms",
        1 / made.falseAlarmRate,
        "s",
        "from normal noise without drift",
      ),
      row(
        "change that 95 % of the decisions see",
        made.detectionLimit,
        made.unit,
      ),
      ...(made.presentLevel === null ? [] : [
        quantityRow("level with the target", made.presentLevel),
        percentRow("decisions that miss this target", made.missProbability),
      ]),
    ],
    figures: [{
      name: "levels",
      caption:
        "Averaged levels without and with a target, with the threshold and the release",
      draw: () => thresholdFigure(made),
    }],
    method:
      "Threshold of a future average by Student's t from the scatter of the averages without a target.",
  }),
  rows: ({ diagnostics }) =>
    Array.from(diagnostics.empty, (level) => ({ level })),
});

registerPresenter<Presence>("level.presence", {
  report: (found) => ({
    title: "When a target was there",
    headlines: [],
    rows: [
      row("stays", found.stays.length),
      percentRow("time with a target", found.presentPart),
      row("there at the end", found.presentAtEnd),
      ...found.stays.slice(0, 12).map(({ from, to, fromStart, toEnd }, k) =>
        row(
          `stay ${k + 1} begins`,
          from,
          "s",
          fromStart
            ? "was there at the first decision"
            : toEnd
            ? "still there at the end"
            : `ends at ${formatNumber(to, { unit: "s", digits: 4 })}`,
        )
      ),
      row("standard uncertainty of a time", found.timeStandardUncertainty, "s"),
      row("false alarms expected of the noise", found.expectedFalseAlarms),
    ],
    figures: [{
      name: "presence",
      caption:
        "Averaged level against time with the threshold and the release; shaded: a target is there",
      draw: () => presenceFigure(found),
    }],
    method:
      "Presence begins where the averaged level passes the threshold and ends where it comes back past the release.",
  }),
  rows: ({ stays }) => stays.map((stay) => ({ ...stay })),
});

function thresholdFigure(made: PresenceCalibration) {
  const { empty, present } = made.diagnostics;
  const step = made.averagingTime;
  const times = (values: Float64Array) => values.map((_, k) => k * step);
  const longest = Math.max(empty.length, present.length) * step;
  const x = shownAxis("Time", [0, longest], "s");
  const y = shownAxis(
    "Level",
    extremes([empty, present, [made.threshold, made.release]]),
    made.unit,
  );
  return stackPanels([{
    y,
    traces: [
      marks(times(empty), empty, x, y, {
        name: "Without a target",
        colour: colours.blue,
        size: 4,
      }),
      ...(present.length === 0 ? [] : [marks(times(present), present, x, y, {
        name: "With the target",
        colour: colours.green,
        size: 4,
      })]),
      ...limits(made, [0, longest], x, y),
    ],
  }], { title: "Threshold for presence", x });
}

function presenceFigure({ diagnostics, stays, unit }: Presence) {
  const { levels, calibration } = diagnostics;
  const step = calibration.averagingTime;
  const times = levels.map((_, k) => (k + 0.5) * step);
  const end = levels.length * step;
  const x = shownAxis("Time", [0, end], "s");
  const [low, high] = extremes([
    levels,
    [calibration.threshold, calibration.release],
  ]);
  const y = shownAxis("Level", [low, high], unit);
  return stackPanels([{
    y,
    traces: [
      ...stays.slice(0, 200).map(({ from, to }, k) =>
        band([from, to], [low, low], [high, high], x, y, {
          name: "A target is there",
          colour: colours.green,
          legend: k === 0,
        })
      ),
      curve(times, levels, x, y, { name: "Level", colour: colours.blue }),
      ...limits(calibration, [0, end], x, y),
    ],
  }], { title: "Presence", x });
}

function limits(
  { threshold, release }: PresenceCalibration,
  ends: readonly number[],
  x: ReturnType<typeof shownAxis>,
  y: ReturnType<typeof shownAxis>,
) {
  return [
    curve(ends, [threshold, threshold], x, y, {
      name: "Threshold",
      colour: colours.vermilion,
    }),
    curve(ends, [release, release], x, y, {
      name: "Release",
      colour: colours.vermilion,
      dash: "dash",
    }),
  ];
}
