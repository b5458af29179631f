import { createRandom } from "../signal/mod.ts";
import { defaultDiode, modelPower } from "../laser/mod.ts";
import { rangingDiode } from "./bench.ts";
import { known, type MadeDataset, truth } from "./manifest.ts";
import { writeText } from "./write_text.ts";

const samplingRate = 10;
const characteristicTemperature = 92;
const kinkCurrent = 0.0462;
const transimpedance = 100e3;
const responsivity = 0.0112;

/** Slow sweeps of the current at four temperatures of the mount. */
export function makeLightCurrentSweeps(): MadeDataset[] {
  return [15, 25, 35, 45].map((celsius, index) => {
    const thresholdCurrent = rangingDiode.thresholdCurrent *
      Math.exp((celsius - 25) / characteristicTemperature);
    const diode = {
      ...defaultDiode,
      thresholdCurrent,
      thresholdWidth: 0.25e-3,
      slopeEfficiency: 0.32 * (1 - 0.002 * (celsius - 25)),
      spontaneousEfficiency: 0.006,
    };
    const random = createRandom(2670 + index);
    const count = 251;
    const current = new Float64Array(count);
    const power = new Float64Array(count);
    const monitor = new Float64Array(count);
    for (let i = 0; i < count; i++) {
      const value = 0.05 * i / (count - 1);
      const light = modelPower(diode, value) * kink(value);
      current[i] = value + 5e-6 * random.normal();
      power[i] = Math.max(0, light + 8e-6 * random.normal());
      monitor[i] = responsivity * light * transimpedance +
        3e-3 * random.normal();
    }
    const name = `light-current-${celsius}c`;
    return {
      bytes: writeText(
        [
          "Origin: simulated teaching bench",
          `Mount temperature: ${celsius} °C`,
          `Sampling rate: ${samplingRate} Hz`,
        ],
        [
          {
            heading: "drive current (mA)",
            samples: current,
            unit: 1e-3,
            digits: 3,
          },
          { heading: "monitor (V)", samples: monitor, unit: 1, digits: 4 },
          {
            heading: "light power (mW)",
            samples: power,
            unit: 1e-3,
            digits: 3,
          },
        ],
        { delimiter: "\t", decimal: ".", lineEnd: "\n", byteOrderMark: false },
      ),
      entry: {
        name,
        series: "light-current",
        file: `${name}.txt`,
        what:
          `Slow sweep of the red diode's current at ${celsius} °C; monitor and a power meter in front`,
        format: "delimited text: metadata lines, tab",
        samplingRate,
        sampleCount: count,
        reading: { channels: { "light power": "other" } },
        known: {
          temperature: known(
            celsius + 273.15,
            0.3,
            "K",
            "Mount, by thermometer",
          ),
          transimpedance: known(
            transimpedance,
            1000 / Math.sqrt(3),
            "Ω",
            "Feedback resistor, 1 %",
          ),
          ratedCurrent: known(0.05, 0, "A", "Greatest current by the label"),
        },
        truth: {
          thresholdCurrent: truth(
            thresholdCurrent,
            "A",
            "Where the lasing line meets zero",
          ),
          slopeEfficiency: truth(
            diode.slopeEfficiency + diode.spontaneousEfficiency,
            "W/A",
            "dP/dI above threshold, below the kink",
          ),
          monitorResponsivity: truth(responsivity, "A/W", "Monitor per light"),
          characteristicTemperature: truth(
            characteristicTemperature,
            "K",
            "T0 of the threshold",
          ),
          kinkCurrent: truth(kinkCurrent, "A", "Mode hop: kink of the power"),
        },
      },
    };
  });
}

/** The mode hop costs 3 % of the light within 0.3 mA. */
function kink(current: number): number {
  return 1 - 0.03 / (1 + Math.exp(-(current - kinkCurrent) / 0.06e-3));
}
