import {
  benchOptions,
  described,
  optional,
  optionOf,
  quantityOption,
  tuningOptions,
} from "../../options/mod.ts";
import { type Flag, flagOf, textFlag, UsageError } from "../task/mod.ts";

/** Which channel is which, and how a drive in volts becomes a current. */
export const channelFlags = {
  "monitor": textFlag(
    "Channel with the monitor signal, by name or by number from 1.",
    "1",
    "recognised by its name",
  ),
  "junction": textFlag(
    "Channel with the voltage of the diode's junction, which stands in for a monitor signal; by name or by number from 1.",
    "1",
    "recognised by its name",
  ),
  "drive": textFlag(
    "Channel with the drive, by name or by number from 1.",
    "2",
    "recognised by its name",
  ),
  "current-per-voltage": flagOf(benchOptions.currentPerVoltage),
  "current-offset": flagOf(benchOptions.currentOffset, {
    whenMissing: "0 A",
  }),
} as const;

/** A drive that is known but was not captured. */
export const statedDriveFlags = {
  "drive-waveform": flagOf(
    optionOf.choice("Waveform of a drive that was not captured.", [
      "triangle",
      "sawtooth",
      "sine",
    ]),
    { whenMissing: "" },
  ),
  "drive-frequency": flagOf(
    optionOf.frequency("Its ramps (periods) per second, in Hz.", "10Hz"),
    { whenMissing: "" },
  ),
  "drive-span": spanFlag(),
} as const;

/** What part of a capture is read, and how fast it was sampled. */
export const readingFlags = {
  "sampling-rate": flagOf(benchOptions.samplingRate, {
    whenMissing: "from the file",
  }),
  "from": flagOf(
    optionOf.notNegative("Start of the part used, in s.", "s", "10ms"),
    { whenMissing: "the first sample" },
  ),
  "to": flagOf(optionOf.time("End of the part used, in s.", "20ms"), {
    whenMissing: "the last sample",
  }),
} as const;

/** What the diode and the air are. */
export const lightFlags = {
  "wavelength": flagOf(benchOptions.wavelength),
  "wavelength-uncertainty": flagOf(
    benchOptions.wavelengthStandardUncertainty,
  ),
  "index": flagOf(benchOptions.refractiveIndex),
} as const;

/** What is measured, and what it needs. */
export const measurementFlags = {
  "as": flagOf(
    optionOf.choice("What the captures are.", [
      "distance",
      "motion",
      "speed",
      "level",
      "light-current",
    ]),
    {
      example: "KIND",
      doc:
        "What the captures are: distance, motion, speed, level or light-current (curve).",
      whenMissing: "recognised from the capture",
    },
  ),
  "angle": flagOf(benchOptions.angle, { unitNeeded: true }),
  "angle-uncertainty": flagOf(benchOptions.angleStandardUncertainty, {
    unitNeeded: true,
  }),
  "tuning": flagOf(
    quantityOption({
      doc: "Tuning of the diode; negative where the wavelength falls.",
      unit: "m/A",
      least: -1e-6,
      most: 1e-6,
      customary: ["pm/mA", "nm/mA"],
      example: "8.3pm/mA",
    }),
    {
      whenMissing: "none, the steps are counted and no distance is computed",
    },
  ),
  "tuning-uncertainty": flagOf(tuningOptions.standardUncertainty),
  "record": textFlag(
    "Calibration record to take the tuning from.",
    "FILE",
  ),
  "count-by": flagOf(
    optionOf.choice("How steps are counted.", ["model-fit", "phase-slope"]),
    {
      doc:
        "How the steps of a ramp are counted: by a fit of the model (model-fit), or many times faster by the slope of the phase alone (phase-slope).",
      whenMissing: "model-fit",
    },
  ),
  "coupling-corner": flagOf(benchOptions.couplingCorner),
  "mains": flagOf(benchOptions.mainsFrequency, { whenMissing: "50 Hz" }),
} as const;

/** All flags by which a capture is measured. */
export const captureFlags = {
  ...lightFlags,
  ...measurementFlags,
  ...channelFlags,
  ...statedDriveFlags,
  ...readingFlags,
} as const;

/** `20mA..60mA`: two currents, the lower one first. */
function spanFlag(): Flag<{ readonly low: number; readonly high: number }> {
  const end = optionOf.current("One end of the span, in A.");
  return {
    example: "20mA..60mA",
    doc: "Its lowest and highest current, in A.",
    whenMissing: "",
    many: false,
    read: (text, name, task) => {
      const [low = "", high = "", ...more] = text.split("..");
      if (low === "" || high === "" || more.length > 0) {
        throw new UsageError(
          `Cannot ${task} as '${name}' must be two currents such as 20mA..60mA: current value is "${
            text.slice(0, 40)
          }"`,
        );
      }
      const span = {
        low: end.read(low, name, task),
        high: end.read(high, name, task),
      };
      if (span.low < span.high) return span;
      throw new UsageError(
        `Cannot ${task} as '${name}' must begin with the lower current: current value is "${
          text.slice(0, 40)
        }"`,
      );
    },
  };
}

/** The relative uncertainty of the ammeter, as the calibration takes it. */
export const ammeterFlag: Flag<number | 0> = flagOf(
  optional(
    described(
      quantityOption({
        doc: "",
        unit: "1",
        least: 0,
        most: 1,
        example: "0.5%",
      }),
      "Relative standard uncertainty of the scale of the ammeter (1).",
    ),
    0,
  ),
);
