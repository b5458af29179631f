import {
  amplifierParts,
  feedbackCorner,
  fringeVoltage,
  outputVoltage,
} from "../bench_values.ts";
import {
  amplifier,
  battery,
  capacitor,
  channel,
  diode,
  ground,
  node,
  openSwitch,
  place,
  resistor,
  terminal,
} from "../circuit.ts";
import { box, drawing, inks, label, line, type Point } from "../svg.ts";

const { rail, monitorCurrent, feedbackResistance, feedbackCapacitance } =
  amplifierParts;

/** Expected voltages by the letters of the drawing. */
export const amplifierVoltages: readonly (readonly [string, string, string])[] =
  [
    ["a", `+${rail}.0 V`, "battery; new one below 7.5 V"],
    ["b", `−${rail}.0 V`, "battery, to 0 V like a"],
    ["c", "0 V", "held there by the amplifier"],
    ["d", "0 V", "wired to the can"],
    [
      "e",
      `+${outputVoltage.toFixed(1)} V`,
      `${(1e6 * monitorCurrent).toFixed(0)} µA × ${
        (1e-3 * feedbackResistance).toFixed(0)
      } kΩ, laser on`,
    ],
    ["e", "0 V ± 0.01 V", "laser off, lamp covered"],
    [
      "e",
      `${(1e3 * fringeVoltage).toFixed(0)} mV`,
      "fringes of 1 %, peak to peak",
    ],
  ];

/** The transimpedance amplifier with two batteries, for arrangement B. */
export function amplifierDrawing(): string {
  const amp = amplifier([330, 200]);
  const summing: Point = [290, amp.minus[1]];
  const outX = 450;
  return drawing(
    {
      width: 760,
      height: 400,
      title: "The amplifier with battery supply",
      description:
        "Two 9 V batteries give plus and minus 9 V against the can, both switched. The cathode of the photodiode goes to the inverting input, its anode to the can at 0 V. From the output a resistor of 100 kilohm with a capacitor of 4.7 picofarad beside it goes back to the inverting input. " +
        amplifierVoltages.map(([letter, voltage, why]) =>
          `${letter}: ${voltage}, ${why}.`
        ).join(" "),
    },
    // Batteries
    terminal([60, 44]),
    openSwitch([60, 48], [60, 96]),
    battery([60, 96], [60, 176]),
    battery([60, 216], [60, 296]),
    openSwitch([60, 344], [60, 296]),
    terminal([60, 348]),
    line([[60, 176], [60, 216]]),
    node([60, 196]),
    line([[60, 196], [116, 196]]),
    ground([116, 196]),
    label([72, 40], "+9 V", { anchor: "start", bold: true }),
    place([126, 36], "a"),
    label([72, 362], "−9 V", { anchor: "start", bold: true }),
    place([126, 358], "b"),
    label([86, 140], "9 V", { anchor: "start", size: 12 }),
    label([86, 262], "9 V", { anchor: "start", size: 12 }),
    label([32, 66], ["both", "poles"], { size: 11, colour: inks.quiet }),
    // Photodiode
    box(
      [168, 204],
      92,
      108,
      { colour: inks.quiet, dash: "6 4", width: 1.2 },
      12,
    ),
    diode([226, 312], [226, 204], "in", 1),
    line([[226, 204], [226, summing[1]], amp.minus]),
    line([[226, 312], [226, 326]]),
    ground([226, 326]),
    label([226, 370], "photodiode in its can", {
      size: 12,
      colour: inks.quiet,
    }),
    // Amplifier
    amp.drawn,
    line([amp.plus, [306, amp.plus[1]], [306, 252]]),
    ground([306, 252]),
    line([amp.upper, [amp.upper[0], 154]]),
    terminal([amp.upper[0], 150]),
    label([amp.upper[0] + 10, 148], "+9 V", { anchor: "start", size: 12 }),
    line([amp.lower, [amp.lower[0], 248]]),
    terminal([amp.lower[0], 252]),
    label([amp.lower[0] + 10, 262], "−9 V", { anchor: "start", size: 12 }),
    label([340, 296], ["100 nF to 0 V", "at each supply lead"], {
      anchor: "start",
      size: 11,
      colour: inks.quiet,
    }),
    // Feedback
    node(summing),
    line([summing, [290, 108]]),
    node([290, 108]),
    line([[290, 108], [290, 58], [310, 58]]),
    resistor([290, 108], [outX, 108]),
    capacitor([310, 58], [430, 58]),
    line([[430, 58], [outX, 58], [outX, 108]]),
    node([outX, 108]),
    line([[outX, 108], [outX, amp.out[1]]]),
    node([outX, amp.out[1]]),
    line([amp.out, [476, amp.out[1]]]),
    channel([476, amp.out[1]], "CH1"),
    label([370, 92], "100 kΩ", { size: 13 }),
    label([370, 36], "4.7 pF", { size: 13 }),
    label([470, 64], [
      "corner",
      `${(feedbackCorner / 1e3).toFixed(0)} kHz`,
    ], { size: 11, anchor: "start", colour: inks.quiet }),
    place([262, 160], "c"),
    place([290, 240], "d"),
    place([464, 182], "e"),
    // Table
    label([548, 40], "Against 0 V, the can:", {
      anchor: "start",
      bold: true,
      size: 12,
    }),
    ...amplifierVoltages.flatMap(([letter, voltage, why], index) => {
      const y = 68 + 44 * index;
      return [
        place([557, y - 4], letter),
        label([574, y], voltage, { anchor: "start", size: 13, bold: true }),
        label([574, y + 16], why, {
          anchor: "start",
          size: 10.5,
          colour: inks.quiet,
        }),
      ];
    }),
  );
}

/** What stands in the drawing of the feedback capacitor, in F. */
export const drawnFeedbackCapacitance = feedbackCapacitance;
