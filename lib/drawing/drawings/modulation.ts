import {
  currentPerVoltage,
  driveParts,
  laserCurrent,
  modulationCorner,
} from "../bench_values.ts";
import {
  battery,
  capacitor,
  channel,
  diode,
  generator,
  ground,
  node,
  openSwitch,
  place,
  resistor,
} from "../circuit.ts";
import { box, drawing, inks, label, line } from "../svg.ts";

const { battery: supply, laserVoltage } = driveParts;

/** Expected voltages by the letters of the drawing. */
export const driveVoltages: readonly (readonly [string, string])[] = [
  ["a", `+${supply.toFixed(1)} V`],
  ["b", `+${laserVoltage.toFixed(1)} V, red; +1.8 V, near infrared`],
  ["c", "0 V on average, the generator's wave"],
];

/** The drive of the laser with a modulation through a capacitor, for B and C. */
export function modulationDrawing(): string {
  const rail = 270;
  const across = supply - laserVoltage;
  return drawing(
    {
      width: 760,
      height: 392,
      title: "Laser current from a battery, modulated through a capacitor",
      description:
        "A 9 V battery feeds the laser diode through a switch and a resistor of 180 ohm. A diode stands the other way round beside the laser. A generator of 50 ohm adds a modulation through a resistor of 470 ohm and a capacitor of 1000 microfarad, whose plus is at the laser. " +
        driveVoltages.map(([letter, voltage]) => `${letter}: ${voltage}.`)
          .join(" "),
    },
    battery([52, 104], [52, 214]),
    line([[52, 104], [52, 64], [66, 64]]),
    openSwitch([66, 64], [130, 64]),
    label([98, 96], "switch", { size: 12, colour: inks.quiet }),
    resistor([130, 64], [250, 64]),
    label([190, 46], "180 Ω", { size: 13 }),
    label([190, 96], `${across.toFixed(1)} V across it`, {
      size: 12,
      colour: inks.quiet,
    }),
    line([[250, 64], [420, 64]]),
    node([300, 64]),
    line([[300, 64], [300, 112]]),
    box(
      [262, 112],
      74,
      104,
      { colour: inks.quiet, dash: "6 4", width: 1.2 },
      12,
    ),
    diode([300, 112], [300, 216], "out", -1),
    line([[300, 216], [300, rail]]),
    label([256, 168], ["laser", "in its can"], {
      size: 12,
      anchor: "end",
      colour: inks.quiet,
    }),
    node([372, 64]),
    line([[372, 64], [372, 112]]),
    diode([372, 216], [372, 112]),
    line([[372, 216], [372, rail]]),
    label([392, 160], ["carries", "what runs", "backward"], {
      size: 11,
      anchor: "start",
      colour: inks.quiet,
    }),
    capacitor([420, 64], [500, 64], true),
    label([464, 100], "1000 µF", { size: 13 }),
    resistor([500, 64], [600, 64]),
    label([550, 46], "470 Ω", { size: 13 }),
    line([[600, 64], [640, 64], [640, 104]]),
    node([620, 64]),
    line([[620, 64], [620, 34], [680, 34]]),
    channel([680, 34], "CH2"),
    generator([640, 104], [640, 214]),
    label([672, 156], ["generator,", "50 Ω inside"], {
      size: 12,
      anchor: "start",
    }),
    line([[52, 214], [52, rail], [640, rail], [640, 214]]),
    node([300, rail]),
    node([372, rail]),
    ground([336, rail]),
    place([34, 84], "a"),
    place([282, 46], "b"),
    place([600, 84], "c"),
    label([78, 164], "9 V", { size: 12, anchor: "start" }),
    ...driveVoltages.flatMap(([letter, voltage], index) => {
      const y = 322 + 24 * index;
      return [
        place([33, y - 4], letter),
        label([52, y], voltage, { anchor: "start", size: 12 }),
      ];
    }),
    label([390, 322], [
      `Standing current: ${across.toFixed(1)} V / 180 Ω = ${
        (1e3 * laserCurrent).toFixed(1)
      } mA`,
      `Modulation: ${(1e3 * currentPerVoltage).toFixed(2)} mA per volt of CH2`,
      `Corner: ${
        modulationCorner.toFixed(2)
      } Hz; ramp at 20 times it or faster`,
    ], { anchor: "start", size: 12 }),
  );
}
