import type { CharacteristicTemperature, DiodeCheck } from "../../bench/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import {
  curve,
  fitPanels,
  marks,
  stackPanels,
  uprightLabel,
  uprights,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<DiodeCheck>("bench.diode", {
  report: (check) => {
    const { operatingPoint } = check;
    return {
      title: `Diode check: ${check.state}`,
      headlines: Number.isNaN(check.thresholdCurrent.value)
        ? []
        : [headline("threshold current", check.thresholdCurrent)],
      rows: [
        row("finding", check.finding),
        quantityRow(
          "threshold by second derivative",
          check.thresholdBySecondDerivative,
        ),
        quantityRow("slope efficiency", check.slopeEfficiency),
        quantityRow("differential efficiency", check.differentialEfficiency),
        quantityRow("monitor current per drive current", check.monitorSlope),
        quantityRow("monitor responsivity", check.monitorResponsivity),
        ...check.excludedBands.flatMap(({ low, high }, k) => [
          row(`keep away ${k + 1}, from`, low, "A"),
          row(`keep away ${k + 1}, to`, high, "A"),
        ]),
        ...(operatingPoint === null
          ? [row("operating point", "none: see the finding")]
          : [
            row("operating current", operatingPoint.current, "A"),
            row("ramp from", operatingPoint.ramp.low, "A"),
            row("ramp to", operatingPoint.ramp.high, "A"),
            row(
              "monitor current there",
              operatingPoint.monitorCurrent,
              "A",
            ),
            row("light power there", operatingPoint.power, "W"),
          ]),
      ],
      figures: [{
        name: "light-current",
        caption:
          "Light against drive current with the two lines that meet at the threshold, and the slope below",
        draw: () => lightCurrentFigure(check),
      }],
      method:
        "Threshold where straight lines through the dark and the lasing part meet; checked by the greatest second derivative.",
    };
  },
  rows: ({ diagnostics }) => {
    const { current, monitor, power, voltage } = diagnostics.sweep;
    return Array.from(current, (at, k) => ({
      current: at,
      ...(monitor === null ? {} : { monitor: monitor[k]! }),
      ...(power === null ? {} : { power: power[k]! }),
      ...(voltage === null ? {} : { voltage: voltage[k]! }),
    }));
  },
});

function lightCurrentFigure(check: DiodeCheck) {
  const { sweep, signal, slope, lines } = check.diagnostics;
  const { current } = sweep;
  const isPower = signal === "power";
  const values = (isPower ? sweep.power : sweep.monitor) ??
    new Float64Array(current.length);
  const unit = isPower ? "W" : "A";
  const x = shownAxis("Drive current", current, "A");
  const y = shownAxis(
    isPower ? "Light power" : "Monitor current",
    values,
    unit,
  );
  const rate = shownAxis("Slope", slope, `${unit}/A`);
  const threshold = check.thresholdCurrent.value;
  const known = Number.isFinite(threshold);
  const line = (
    name: string,
    colour: string,
    fit: NonNullable<typeof lines>["below"],
    from: number,
    to: number,
  ) => {
    const at = (i: number) => fit.intercept.value + fit.slope.value * i;
    return curve([from, to], [at(from), at(to)], x, y, {
      name,
      colour,
      panel: 2,
      width: 2.2,
    });
  };
  const first = current[0] ?? 0;
  const last = current.at(-1) ?? 0;
  const point = check.operatingPoint;
  return stackPanels([
    {
      y: rate,
      weight: 0.6,
      traces: [
        curve(current, slope, x, rate, {
          name: "Slope",
          colour: colours.green,
          legend: false,
        }),
      ],
    },
    {
      y,
      traces: [
        marks(current, values, x, y, {
          name: "Sweep",
          colour: colours.blue,
          panel: 2,
          size: 5,
          symbol: "circle-open",
        }),
        ...(lines === null ? [] : [
          line(
            "Below threshold",
            colours.black,
            lines.below,
            first,
            known ? threshold + 0.1 * (last - first) : last,
          ),
          line(
            "Above threshold",
            colours.vermilion,
            lines.above,
            known ? threshold : first,
            last,
          ),
        ]),
      ],
    },
  ], {
    title: "Light–current curve",
    x,
    layout: {
      shapes: [
        ...(known ? uprights([threshold], x, colours.black, "dash") : []),
        ...check.excludedBands.map(({ low, high }) =>
          stripe(x.scale(low), x.scale(high), colours.vermilion)
        ),
        ...(point === null ? [] : [
          stripe(
            x.scale(point.ramp.low),
            x.scale(point.ramp.high),
            colours.green,
          ),
        ]),
      ],
      annotations: [
        ...(known
          ? [uprightLabel(x.scale(threshold), "threshold", "linear")]
          : []),
        ...(point === null ? [] : [{
          ...uprightLabel(x.scale(point.current), "ramp here", "linear"),
          xanchor: "center",
        }]),
        ...check.excludedBands.slice(0, 4).map(({ low, high }) => ({
          ...uprightLabel(x.scale((low + high) / 2), "keep away", "linear"),
          xanchor: "center",
          textangle: -90,
        })),
      ],
    },
  });
}

/** A shaded stretch of the current axis. */
function stripe(from: number | null, to: number | null, colour: string) {
  return {
    type: "rect",
    layer: "below",
    xref: "x",
    yref: "paper",
    x0: from,
    x1: to,
    y0: 0,
    y1: 1,
    fillcolor: colour,
    opacity: 0.13,
    line: { width: 0 },
  };
}

registerPresenter<CharacteristicTemperature>(
  "bench.characteristicTemperature",
  {
    report: (result) => ({
      title: "Characteristic temperature of the threshold",
      headlines: [
        headline(
          "characteristic temperature",
          result.characteristicTemperature,
        ),
        headline("threshold at 25 °C", result.thresholdAtRoom),
      ],
      rows: [quantityRow("rise of the threshold", result.risePerKelvin)],
      figures: [{
        name: "thresholds",
        caption:
          "Logarithm of the threshold against temperature with the fitted line",
        draw: () => {
          const { x, y, residuals } = result.diagnostics.line.diagnostics;
          const { intercept, slope } = result.diagnostics.line;
          const ends = [Math.min(...x), Math.max(...x)];
          return fitPanels({
            title: "Threshold against temperature",
            x: { name: "Temperature over 25 °C", unit: "K" },
            y: { name: "ln (threshold / A)", unit: "1" },
            points: { x, y },
            fitted: {
              x: ends,
              y: ends.map((at) => intercept.value + slope.value * at),
            },
            residuals,
            pointsName: "Thresholds",
            fitName: "Line",
          });
        },
      }],
      method: "Straight line through ln I_th against T.",
    }),
  },
);
