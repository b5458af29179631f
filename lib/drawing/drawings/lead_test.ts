import {
  forwardVoltages,
  leadTest,
  resistorVoltages,
} from "../bench_values.ts";
import { arrowLine, battery, meter, resistor, terminal } from "../circuit.ts";
import { box, drawing, inks, label, line, shape } from "../svg.ts";

const range = (voltages: readonly [number, number]) =>
  resistorVoltages(voltages).map((value) => value.toFixed(1)).join(" to ");

/** How to find which lead is which. */
export function leadTestDrawing(): string {
  const rows: [string, string][] = [
    [
      `${range(forwardVoltages.photodiode)} V`,
      "photodiode, red clip on its anode",
    ],
    [
      `${range(forwardVoltages["near-infrared laser"])} V`,
      "near-infrared laser, red clip on its anode",
    ],
    [
      `${range(forwardVoltages["red laser"])} V`,
      "red laser, red clip on its anode",
    ],
    ["below 0.05 V", "no junction, or the wrong way round"],
  ];
  return drawing(
    {
      width: 760,
      height: 300,
      title: "Finding the leads with a meter and a current limit",
      description:
        `A supply set to ${leadTest.supply} V with its current limit at 5 mA, in series a resistor of ${leadTest.resistor} ohm with a voltmeter across it, and two clips that go to two of the three leads at a time. Readings: ` +
        rows.map(([reading, what]) => `${reading}: ${what}`).join("; ") + ".",
    },
    // The loop
    battery([60, 100], [60, 210]),
    label([82, 148], ["2.0 V,", "limit 5 mA"], { size: 12, anchor: "start" }),
    line([[60, 100], [60, 70], [110, 70]]),
    resistor([110, 70], [230, 70]),
    label([170, 96], "1 kΩ", { size: 13 }),
    line([[120, 70], [120, 30], [130, 30]]),
    meter([130, 30], [210, 30], "V"),
    line([[210, 30], [220, 30], [220, 70]]),
    line([[230, 70], [290, 70], [290, 106]], { colour: inks.beam }),
    line([[60, 210], [60, 246], [290, 246], [290, 206]]),
    // Clips and can
    shape([[284, 106], [296, 106], [292, 126], [288, 126]], {
      colour: inks.beam,
      fill: inks.beam,
    }),
    shape([[284, 206], [296, 206], [292, 186], [288, 186]], {
      fill: inks.line,
    }),
    label([304, 96], "red clip, +", { size: 12, anchor: "start" }),
    label([304, 224], "black clip, −", { size: 12, anchor: "start" }),
    ...[126, 156, 186].map((y) => line([[292, y], [334, y]], { width: 2.4 })),
    terminal([288, 156]),
    box([334, 112], 30, 88, { fill: inks.field }, 5),
    box([364, 132], 8, 48, { fill: inks.field }),
    arrowLine([376, 156], [398, 156], inks.beam),
    label([420, 30], "Voltage across the 1 kΩ: 1 V is 1 mA", {
      anchor: "start",
      bold: true,
      size: 13,
    }),
    ...rows.flatMap(([reading, what], index) => {
      const y = 58 + 44 * index;
      return [
        line([[420, y - 16], [744, y - 16]], { colour: inks.faint, width: 1 }),
        label([420, y], reading, { anchor: "start", size: 13, bold: true }),
        label([420, y + 17], what, {
          anchor: "start",
          size: 12,
          colour: inks.quiet,
        }),
      ];
    }),
    label([420, 246], [
      "Six ways to clip two of three leads: two of them conduct.",
      "The lead that both have in common is the can.",
    ], { anchor: "start", size: 11 }),
  );
}
