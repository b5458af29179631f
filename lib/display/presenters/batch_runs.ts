import type { RunComparison } from "../../batch/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import { marks, sampleLine, stackPanels } from "../figures/mod.ts";
import { formatNumber } from "../format_number.ts";
import { formatQuantity } from "../format_quantity.ts";
import { plotText } from "../plot_text.ts";
import { colours } from "../theme.ts";
import { row } from "./rows.ts";

registerPresenter<RunComparison>("batch.runs", {
  report: (comparison) => ({
    title: `Runs compared: ${comparison.name}`,
    headlines: [],
    rows: comparison.runs.map(({ label, value, change, ratio }, k) =>
      row(
        label,
        formatQuantity(value, { form: "plus-minus" }),
        "",
        k === 0
          ? "the first"
          : `${
            formatQuantity(change, { form: "plus-minus" })
          } from the first, ${formatNumber(ratio, { digits: 2 })} U`,
      )
    ),
    figures: [
      {
        name: "values",
        caption: `${comparison.name} of each run, bars: ± U`,
        draw: () => valuesFigure(comparison),
      },
      ...(comparison.diagnostics.courses.length === 0 ? [] : [{
        name: "courses",
        caption: "The courses of the runs over each other, each from its mean",
        draw: () => coursesFigure(comparison),
      }]),
    ],
    method: "Each run is held against the first; what both share cancels.",
  }),
  rows: ({ runs }) =>
    runs.map(({ label, setting, value, change, ratio }) => ({
      label,
      setting,
      value: value.value,
      standardUncertainty: value.standardUncertainty,
      change: change.value,
      ratio,
    })),
});

const upperFirst = (text: string) => text[0]!.toUpperCase() + text.slice(1);

function valuesFigure({ runs, name, unit, diagnostics }: RunComparison) {
  const values = runs.map(({ value }) => value.value);
  const bars = runs.map(({ value }) => value.expandedUncertainty);
  const y = shownAxis(
    upperFirst(name),
    extremes([
      values.map((value, k) => value + bars[k]!),
      values.map((value, k) => value - bars[k]!),
    ]),
    unit,
  );
  const { setting } = diagnostics;
  const places = runs.map((run, k) => setting === null ? k : run.setting);
  const x = setting === null
    ? shownAxis("Run", places, "1")
    : shownAxis(upperFirst(setting.name), places, setting.unit);
  return stackPanels([{
    y,
    traces: [marks(places, values, x, y, {
      name: "Runs, bars: ± U",
      colour: colours.blue,
      size: 8,
    }, bars)],
  }], {
    title: `Runs compared: ${name}`,
    x,
    ...(setting !== null ? {} : {
      axis: {
        tickvals: places,
        ticktext: runs.map(({ label }) => plotText(label)),
        range: [-0.5, runs.length - 0.5],
      },
    }),
  });
}

function coursesFigure({ diagnostics }: RunComparison) {
  const courses = diagnostics.courses.map((course) => {
    let [sum, count] = [0, 0];
    for (let i = 0; i < course.samples.length; i++) {
      const value = course.samples[i]!;
      if (value - value !== 0) continue;
      sum += value;
      count++;
    }
    return {
      ...course,
      samples: Float64Array.from(
        course.samples,
        (value) => value - sum / count,
      ),
    };
  });
  const longest = Math.max(
    ...courses.map(({ samples, samplingRate }) =>
      samples.length / samplingRate
    ),
  );
  const first = courses[0]!;
  const x = shownAxis("Time", [0, longest], "s");
  const y = shownAxis(
    `${first.name} from its mean`,
    extremes(courses.map(({ samples }) => samples)),
    first.unit,
  );
  const palette = Object.values(colours);
  const points = Math.max(300, Math.floor(6000 / courses.length));
  return stackPanels([{
    y,
    traces: courses.map(({ label, samples, samplingRate }, k) =>
      sampleLine(samples, { start: 0, step: 1 / samplingRate }, x, y, {
        name: plotText(label),
        colour: palette[k % palette.length]!,
      }, points)
    ),
  }], { title: "Runs over each other", x });
}
