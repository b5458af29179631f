import { registerPresenter } from "../../result/mod.ts";
import type { SpeedTrack } from "../../speed/mod.ts";
import { shownAxis } from "../axis.ts";
import {
  bandedCourse,
  curve,
  heatMap,
  heatMapAxis,
  stackPanels,
  uprights,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, percentRow, quantityRow, row } from "./rows.ts";

registerPresenter<SpeedTrack>("speed.track", {
  report: (track) => ({
    title: "Speed over time",
    headlines: [
      headline("mean speed", track.meanSpeed),
      headline("highest speed", track.highestSpeed),
      headline("lowest speed", track.lowestSpeed),
    ],
    rows: [
      percentRow("seen in this part of the record", track.seenFraction),
      row("frames", track.time.length),
      row("samples per frame", track.diagnostics.segmentLength),
      row("times the line was lost", track.diagnostics.dropouts),
      row("turns round, times", track.zeroCrossings.length),
      ...track.zeroCrossings.slice(0, 12).map((crossing, k) =>
        quantityRow(`turns round ${k + 1}, at`, crossing)
      ),
      ...track.standstills.slice(0, 12).flatMap(({ from, to }, k) => [
        quantityRow(`stands still ${k + 1}, from`, from),
        quantityRow(`stands still ${k + 1}, until`, to),
      ]),
      ...(track.modulation === null ? [] : [
        quantityRow(
          "comes back at even times, at",
          track.modulation.frequency,
          "as an eccentric shaft makes it",
        ),
        quantityRow("by this part of the speed", track.modulation.depth),
      ]),
      ...(track.secondSpeed === null
        ? []
        : [quantityRow("second speed beside it", track.secondSpeed)]),
      ...track.spans.slice(0, 12).map(({ direction }, k) =>
        row(`stretch ${k + 1}`, direction)
      ),
    ],
    figures: [
      {
        name: "spectrogram",
        caption:
          "Spectrogram of the monitor signal with the tracked line, and the speed with its 95 % band under it",
        draw: () => trackFigure(track),
      },
      {
        name: "speed",
        caption: "Speed and acceleration over time with their 95 % bands",
        draw: () => speedFigure(track),
      },
    ],
    method:
      "The line is followed through the frames of a spectrogram; wavelength, angle and air turn its frequency into a speed.",
  }),
  rows: (track) =>
    Array.from(track.time, (time, k) => ({
      time,
      frequency: track.frequency[k]!,
      speed: track.speed[k]!,
      standardUncertainty: track.speedStandardUncertainty[k]!,
      velocity: track.velocity[k]!,
      acceleration: track.acceleration[k]!,
    })),
});

/** Speed with its sign where the direction is known. */
function signed(track: SpeedTrack): { name: string; values: Float64Array } {
  return track.velocity.some((value) => Number.isFinite(value))
    ? { name: "Velocity", values: track.velocity }
    : { name: "Speed", values: track.speed };
}

function trackFigure(track: SpeedTrack) {
  const { bins, density } = track.diagnostics;
  const x = shownAxis("Time", track.time, "s");
  const y = shownAxis("Frequency", bins, "Hz");
  const { name, values } = signed(track);
  const v = shownAxis(name, values, "m/s");
  return stackPanels([
    {
      y: v,
      weight: 0.5,
      traces: bandedCourse(
        track.time,
        values,
        track.speedStandardUncertainty,
        x,
        v,
        {
          name,
          colour: colours.blue,
          panel: 1,
          legend: "band",
        },
      ),
      axis: { zeroline: true, zerolinecolor: colours.grey },
    },
    {
      y,
      traces: [
        {
          ...heatMap(
            { columns: track.time, rows: bins, values: density },
            x,
            y,
            { name: "dB re the highest" },
          ),
          yaxis: "y2",
        },
        // A light edge keeps the line apart from the dark ridge that it follows.
        curve(track.time, track.frequency, x, y, {
          name: "Edge of the tracked line",
          colour: "#ffffff",
          panel: 2,
          width: 5,
          legend: false,
        }),
        curve(track.time, track.frequency, x, y, {
          name: "Tracked line",
          colour: colours.vermilion,
          panel: 2,
          width: 2,
        }),
      ],
      axis: heatMapAxis(bins, y),
    },
  ], {
    title: "Spectrogram with the tracked line",
    x,
    layout: {
      showlegend: true,
      shapes: uprights(
        track.zeroCrossings.map(({ value }) => value),
        x,
        colours.grey,
      ),
    },
  });
}

function speedFigure(track: SpeedTrack) {
  const x = shownAxis("Time", track.time, "s");
  const { name, values } = signed(track);
  const v = shownAxis(name, values, "m/s");
  const a = shownAxis("Acceleration", track.acceleration, "m/s²");
  return stackPanels([
    {
      y: a,
      weight: 0.7,
      traces: bandedCourse(
        track.time,
        track.acceleration,
        track.accelerationStandardUncertainty,
        x,
        a,
        { name: "Acceleration", colour: colours.green, legend: "course" },
      ),
      axis: { zeroline: true, zerolinecolor: colours.grey },
    },
    {
      y: v,
      traces: bandedCourse(
        track.time,
        values,
        track.speedStandardUncertainty,
        x,
        v,
        { name, colour: colours.blue, panel: 2 },
      ),
      axis: { zeroline: true, zerolinecolor: colours.grey },
    },
  ], { title: `${name} over time`, x });
}
