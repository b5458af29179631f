import { extremesOf } from "../../order/mod.ts";
import { fitLine } from "../../fit/mod.ts";
import { inDigits } from "../../result/mod.ts";
import { median } from "./local_fit.ts";
import type { LightCurrentSweep } from "./sweep.ts";
import type { Break } from "./threshold.ts";

/** What a sweep shows. */
export type DiodeState =
  | "laser diode with monitor"
  | "laser diode without monitor signal"
  | "regulated package"
  | "reversed leads"
  | "reversed photodiode"
  | "threshold not swept"
  | "no lasing";

/** What a sweep shows, in words. */
export interface DiodeFinding {
  /** Short name. */
  readonly state: DiodeState;
  /** What it means and what to do, one or two sentences. */
  readonly sentence: string;
}

/** Recognises from the currents alone that no current flows. */
export function findReversedLeads(
  sweep: LightCurrentSweep,
): DiodeFinding | null {
  const { current, voltage } = sweep;
  if (voltage === null) return null;
  const [lowest, highest] = extremesOf(voltage);
  const greatest = Math.max(...extremesOf(current).map(Math.abs));
  if (highest - lowest < 1 || greatest > 1e-3) return null;
  return {
    state: "reversed leads",
    sentence: `The voltage goes up to ${
      highest.toPrecision(2)
    } V but no current flows (at most ${
      micro(greatest)
    } µA): the diode is connected the wrong way round, or broken. Switch off at once: a laser diode stands about 2 V backwards`,
  };
}

/** Recognises a driver inside the package: light that does not follow. */
export function findRegulation(
  x: Float64Array,
  y: Float64Array,
): DiodeFinding | null {
  const n = y.length;
  const top = median(Array.from(y.subarray(Math.floor(0.8 * n))));
  const bottom = median(Array.from(y.subarray(0, Math.max(3, n >> 4))));
  const rise = top - bottom;
  if (!(Math.abs(rise) > 0)) return null;
  const part = Array.from(y, (value) => (value - bottom) / rise);
  const noise = median(
    part.slice(1).map((value, i) => Math.abs(value - part[i]!)),
  );
  if (noise > 0.05) return null;
  const starts = part.findIndex((value) => value > 0.15);
  const reached = part.findIndex((value) => value > 0.85);
  const flat = part.slice(reached).every((value) => Math.abs(value - 1) < 0.15);
  const share = (n - reached) / n;
  if (!flat || share < 0.3 || reached - starts > 0.15 * n) return null;
  return {
    state: "regulated package",
    sentence: `The light jumps to its full value near ${
      milli(x[starts]!)
    } mA and stays there however much the current rises: a driver inside the package regulates it. Its light cannot be ramped and its monitor is not led out; take a bare diode`,
  };
}

/** Recognises a monitor channel that says nothing. */
export function findMissingMonitor(
  monitor: Float64Array,
  lasing: boolean,
): DiodeFinding | null {
  const [lowest, highest] = extremesOf(monitor);
  const noise = median(
    Array.from(
      monitor.subarray(1),
      (value, i) => Math.abs(value - monitor[i]!),
    ),
  );
  const n = monitor.length;
  const change = median(Array.from(monitor.subarray(Math.floor(0.9 * n)))) -
    median(Array.from(monitor.subarray(0, Math.max(3, Math.floor(0.1 * n)))));
  const level = median(Array.from(monitor));
  if (Math.abs(change) > Math.max(4 * noise, 50e-9)) {
    if (change > 0) return null;
    return {
      state: "reversed photodiode",
      sentence: `The monitor signal falls by ${
        micro(-change)
      } µA while the light rises: the photodiode is connected the wrong way round, or the amplifier inverts. Give a negative 'transimpedance', or swap its leads`,
    };
  }
  if (Math.abs(level) > 20e-6 && highest - lowest < 0.02 * Math.abs(level)) {
    return {
      state: "reversed photodiode",
      sentence: `The monitor channel stands at ${
        micro(level)
      } µA whatever the drive current: the amplifier is at its rail. The photodiode is probably connected the wrong way round and conducts`,
    };
  }
  return {
    state: "laser diode without monitor signal",
    sentence: `The monitor channel stays within ${
      micro(Math.max(highest - lowest, noise))
    } µA over the whole sweep${
      lasing ? " although the diode lases" : ""
    }: this package has no photodiode, or the wrong pin is connected. Look at the label's drawing; the voltage of the diode itself carries the fringes too`,
  };
}

/** Recognises a diode that only glows, and a sweep that starts too high. */
export function findNoThreshold(
  found: Break,
  x: Float64Array,
  y: Float64Array,
): DiodeFinding | null {
  const [below, above] = found.slopes;
  const steeper = above / Math.max(Math.abs(below), 1e-300);
  if (steeper > 4 && found.residualRatio < 0.2) return null;
  const line = fitLine(x, y);
  const zero = -line.intercept.value / line.slope.value;
  if (line.rSquared > 0.9 && line.slope.value > 0 && zero > 0.2 * x[0]!) {
    return {
      state: "threshold not swept",
      sentence: `The light rises evenly from ${
        milli(x[0]!)
      } mA on, as if from ${
        milli(zero)
      } mA: the sweep starts above the threshold. Start it at 0`,
    };
  }
  return {
    state: "no lasing",
    sentence: `The light shows no threshold up to ${
      milli(x.at(-1)!)
    } mA: the diode does not lase, because the sweep ends too low, it is too warm, or it is broken. Do not go above its rated current to find out`,
  };
}

function milli(value: number): string {
  return inDigits(value * 1e3, 3);
}

function micro(value: number): string {
  return inDigits(value * 1e6, 2);
}
