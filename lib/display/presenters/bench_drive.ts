import type { ConvertedDrive, JunctionSignal } from "../../bench/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import { curve, marks, sampleLine, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, percentRow, quantityRow, row } from "./rows.ts";

registerPresenter<ConvertedDrive>("bench.drive", {
  report: (drive) => ({
    title: "Drive voltage as the current of the diode",
    headlines: drive.couplingCorner === null
      ? []
      : [headline("corner of the capacitor", drive.couplingCorner)],
    rows: [
      row("lowest current", drive.currentRange.low, "A"),
      row("highest current", drive.currentRange.high, "A"),
      row("frequency of the drive", drive.frequency, "Hz"),
      ...(drive.phase === null ? [] : [
        {
          ...quantityRow("the current leads by", drive.phase),
          value: drive.phase.value * 180 / Math.PI,
          standardUncertainty: drive.phase.standardUncertainty * 180 / Math.PI,
          unit: "°",
        },
        percentRow("part that gets through", drive.transmission),
      ]),
      ...(drive.diagnostics.curve.length === 0
        ? []
        : [row("points of the curve", drive.diagnostics.curve.length)]),
    ],
    figures: [
      {
        name: "drive",
        caption: "Drive voltage as recorded and the current that it makes",
        draw: () => driveFigure(drive),
      },
      ...(drive.diagnostics.curve.length === 0 ? [] : [{
        name: "curve",
        caption: "Current against voltage, with the part that the drive uses",
        draw: () => curveFigure(drive),
      }]),
    ],
    method: drive.diagnostics.curve.length > 0
      ? "Monotone curve through the points of current against voltage."
      : "Current per voltage, behind the first-order high-pass of the capacitor where there is one.",
  }),
});

registerPresenter<JunctionSignal>("bench.junction", {
  report: (signal) => ({
    title: "Fringes of the junction voltage, beside the photodiode",
    headlines: [
      headline("amplitude of the junction voltage", signal.amplitude),
    ],
    rows: [
      row("sign", "falls where the light grows"),
      percentRow("part that the drive leaves", signal.loading),
      row("noise of the junction voltage, rms", signal.noise, "V"),
      row("signal-to-noise ratio, junction", signal.signalToNoise, "dB"),
      row("amplitude of the monitor current", signal.monitorAmplitude, "A"),
      row("noise of the monitor current, rms", signal.monitorNoise, "A"),
      row(
        "signal-to-noise ratio, photodiode",
        signal.monitorSignalToNoise,
        "dB",
      ),
      ...signal.diagnostics.noiseParts.map(({ source, value }) =>
        row(`noise of the ${source}, rms`, value, "V")
      ),
    ],
    figures: [],
    method:
      "Steady state of the rate equations; good to a factor of three, without the noise of the drive current.",
  }),
});

function driveFigure({ diagnostics }: ConvertedDrive) {
  const { voltage, current, samplingRate } = diagnostics;
  const length = voltage.length;
  const x = shownAxis("Time", [0, length / samplingRate], "s");
  const above = shownAxis("Drive voltage", extremes([voltage]), "V");
  const below = shownAxis("Current", extremes([current]), "A");
  const time = { start: 0, step: 1 / samplingRate };
  return stackPanels([
    {
      y: below,
      traces: [sampleLine(current, time, x, below, {
        name: "Current",
        colour: colours.vermilion,
        legend: false,
      })],
    },
    {
      y: above,
      traces: [sampleLine(voltage, time, x, above, {
        name: "Voltage",
        colour: colours.blue,
        panel: 2,
        legend: false,
      })],
    },
  ], { title: "Voltage and current of the drive", x });
}

function curveFigure({ diagnostics }: ConvertedDrive) {
  const { curve: points, voltage, current } = diagnostics;
  const xs = points.map((each) => each.voltage);
  const ys = points.map((each) => each.current);
  const x = shownAxis("Voltage", xs, "V");
  const y = shownAxis("Current", ys, "A");
  const order = Array.from(voltage, (_, k) => k)
    .filter((k) => k % Math.ceil(voltage.length / 500) === 0)
    .sort((a, b) => voltage[a]! - voltage[b]!);
  return stackPanels([{
    y,
    traces: [
      curve(
        order.map((k) => voltage[k]!),
        order.map((k) => current[k]!),
        x,
        y,
        { name: "Part in use", colour: colours.vermilion, width: 3 },
      ),
      marks(xs, ys, x, y, { name: "Curve", colour: colours.blue, size: 5 }),
    ],
  }], { title: "Current against voltage", x });
}
