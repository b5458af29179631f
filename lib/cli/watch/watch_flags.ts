import { benchOptions, optionOf, quantityOption } from "../../options/mod.ts";
import { channelFlags, lightFlags, readingFlags } from "../capture/mod.ts";
import {
  flagOf,
  type FlagValues,
  loneFlag,
  textFlag,
  UsageError,
} from "../task/mod.ts";

/** The options of the task. */
export const watchFlags = {
  "run": textFlag(
    "A recorder to start, without a shell; its output is watched.",
    '"COMMAND"',
  ),
  "tcp": textFlag("An instrument that speaks SCPI.", "HOST:PORT"),
  "description": textFlag(
    "What to say to the instrument.",
    "FILE.json",
    "SCPI in general",
  ),
  "simulate": loneFlag("A simulated bench to learn on."),
  "raw": textFlag("Bare numbers of this type, such as int16.", "TYPE"),
  "channels": flagOf(
    optionOf.whole("Channels of bare numbers.", { least: 1 }),
    {
      example: "2",
      whenMissing: "1",
    },
  ),
  "sampling-rate": readingFlags["sampling-rate"],
  "full-scale": flagOf(
    optionOf.positive(
      "Voltage at full scale of whole numbers, in V.",
      "V",
      "1V",
    ),
    { whenMissing: "none, signals are parts of full scale" },
  ),
  ...channelFlags,
  "wavelength": lightFlags.wavelength,
  "rated-current": flagOf(
    optionOf.current("Greatest current that the diode is rated for, in A."),
    { example: "45mA", whenMissing: "nothing is said of the class" },
  ),
  "rated-power": flagOf(
    quantityOption({
      doc: "Light power at that current, in W.",
      unit: "W",
      least: 0,
      most: 10,
      customary: ["mW"],
      example: "5mW",
    }),
    { whenMissing: "" },
  ),
  "threshold-current": flagOf(
    optionOf.current("Threshold current of the diode, in A."),
    { example: "25mA", whenMissing: "0 A" },
  ),
  "current": flagOf(
    optionOf.current("Current that is set, where no channel carries it, in A."),
    { example: "40mA", whenMissing: "" },
  ),
  "duration": flagOf(
    optionOf.time("Samples after which it ends, in s.", "60s"),
    { whenMissing: "Ctrl+C" },
  ),
  "keep": flagOf(optionOf.time("Samples that are kept, in s.", "10s"), {
    whenMissing: "10 s",
  }),
  "record": textFlag("Records all to this file.", "FILE.wav"),
  "take": textFlag(
    "Takes a capture when the fringes are good, writes it, and ends.",
    "FILE",
  ),
  "take-duration": flagOf(
    optionOf.time("Length of a capture that is taken, in s.", "0.2s"),
    { whenMissing: "0.2 s, in a series 0.4 s" },
  ),
  "trigger": flagOf(
    optionOf.choice("What starts it: the level or the drive.", [
      "level",
      "drive",
    ]),
    { whenMissing: "nothing" },
  ),
  "displacement": loneFlag("Follows the displacement."),
  "speed": loneFlag("Measures the speed again and again."),
  "angle": flagOf(benchOptions.angle, { unitNeeded: true }),
  "tuning": flagOf(benchOptions.tuningCoefficient, {
    doc: "Measures the distance by the ramps, with this tuning, in m/A.",
    whenMissing: "",
  }),
  "near": flagOf(
    optionOf.finite("Level at and above which something is near."),
    { example: "0.6", whenMissing: "" },
  ),
  "far": flagOf(optionOf.finite("Level at and below which it is gone."), {
    example: "0.5",
    whenMissing: "",
  }),
  "series": textFlag(
    "Leads through captures at these distances and writes readings.csv.",
    '"60,90,120mm"',
  ),
  "distance-uncertainty": flagOf(
    optionOf.lengthUncertainty(
      "Standard uncertainty of each distance, in m.",
      "0.2mm",
    ),
    { whenMissing: "0.2 mm" },
  ),
  "output": textFlag("Folder of the series.", "FOLDER", "readings"),
} as const;

/** What was typed. */
export type WatchValues = FlagValues<typeof watchFlags>;

/**
 * Distances as typed, `60,90,120mm`: the last unit holds for those without.
 *
 * @throws {UsageError} If one is no length.
 */
export function distancesOf(text: string, task: string): number[] {
  const parts = text.split(/[,;]/).map((part) => part.trim())
    .filter((part) => part !== "");
  const unit = /[^\d.eE+\s-].*$/.exec(parts.at(-1) ?? "")?.[0] ?? "";
  const option = optionOf.length("Distance, in m.", "120mm");
  if (parts.length === 0) {
    throw new UsageError(`Cannot ${task} as '--series' names no distance`);
  }
  return parts.map((part) => {
    const whole = /[a-zµ]/i.test(part) ? part : part + unit;
    if (!/[a-zµ]/i.test(whole)) {
      throw new UsageError(
        `Cannot ${task} as '--series' names no unit: write, say, 60,90,120mm`,
      );
    }
    return option.read(whole, "--series", task);
  });
}
