import { benchOptions } from "../options/mod.ts";
import type { ChannelInput, ChannelRole, Samples } from "./capture.ts";
import type { OpenedChannel } from "./file/opened_file.ts";
import type { ChannelOptions } from "./options.ts";
import { recogniseRole } from "./role.ts";
import { warn, type Warning } from "../result/mod.ts";

/** What becomes of one channel of a file. */
export interface ChannelPlan {
  readonly name: string;
  readonly role: ChannelRole;
  /** SI unit after scaling. */
  readonly unit: string;
  /** The file's number that means 0. */
  readonly zero: number;
  /** Factor to apply to the file's numbers. */
  readonly factor: number;
  /** Factor to put on record. */
  readonly scale: number;
  /** Digitiser limits, in `unit`. */
  readonly fullScale: { low: number; high: number } | null;
}

/**
 * Decides names, units, factors and roles of the channels before their samples
 * are read; says what it assumed.
 */
export function planChannels(
  opened: readonly OpenedChannel[],
  options: Readonly<Record<string, ChannelOptions | ChannelRole>>,
): { plans: ChannelPlan[]; warnings: Warning[] } {
  const warnings: Warning[] = [];
  const given = new Map(Object.entries(options));
  const used = new Set<string>();
  const channels = opened.map((channel, index) => {
    const key = given.has(channel.name) ? channel.name : String(index);
    const option = given.get(key);
    if (option !== undefined) used.add(key);
    const settings: ChannelOptions = typeof option === "string"
      ? { role: option }
      : option ?? {};
    const name = settings.name ?? channel.name;
    const recorded = settings.unit ?? channel.unit;
    const perVoltage = readPerVoltage(settings, name, recorded);
    const unit = perVoltage === null ? recorded : "A";
    const factor = (settings.scale === undefined
      ? channel.scale
      : settings.scale * (channel.step ?? 1)) * (perVoltage?.factor ?? 1);
    const offset = perVoltage?.offset ?? 0;
    const zero = (channel.zero ?? 0) - (offset === 0 ? 0 : offset / factor);
    const role = settings.role ??
      (perVoltage === null ? channel.role : "drive current") ??
      recogniseRole(name, unit);
    if (settings.role !== undefined) {
      requireUnit(name, settings.role, unit);
    }
    const fullScale = settings.fullScale !== undefined
      ? settings.fullScale
      : channel.fullScale === null
      ? null
      : {
        low: (channel.fullScale.low - zero) * factor,
        high: (channel.fullScale.high - zero) * factor,
      };
    const scale = perVoltage !== null
      ? factor
      : settings.scale ?? channel.recordedScale ?? factor;
    return { name, unit, zero, factor, scale, fullScale, role };
  });
  for (const key of given.keys()) {
    if (!used.has(key)) {
      throw new RangeError(
        `Cannot apply the options of channel '${key}' as there is no such channel: the file has ${
          opened.slice(0, 20).map(({ name }, index) =>
            `${index}: '${name.slice(0, 60)}'`
          ).join(", ")
        }`,
      );
    }
  }
  const currents = channels.filter(({ role, unit }) =>
    role === null && unit === "A"
  );
  if (
    currents.length === 1 && channels.length > 1 &&
    !channels.some(({ role }) => role === "drive current")
  ) {
    currents[0]!.role = "drive current";
    warnings.push(warn(
      "role-assumed",
      `Channel '${
        currents[0]!.name
      }' was taken for the drive current as it alone is in A. If it is not, give its role in 'channels'`,
      "note",
    ));
  }
  const open = channels.filter(({ role }) => role === null);
  const junction = channels.find(({ role }) => role === "junction voltage");
  const hasMonitor = junction !== undefined ||
    channels.some(({ role }) => role === "monitor signal");
  if (
    junction !== undefined &&
    !channels.some(({ role }) => role === "monitor signal")
  ) {
    warnings.push(warn(
      "junction-signal",
      `The junction voltage '${junction.name}' is taken for the signal, turned over, as it falls where the light grows. An amplifier that inverts turns it once more: give it a negative 'scale' then`,
      "note",
    ));
  }
  if (!hasMonitor && open.length === 1) {
    open[0]!.role = "monitor signal";
    warnings.push(warn(
      "role-assumed",
      `Channel '${
        open[0]!.name
      }' was taken for the monitor signal as no other channel can be it. If it is not, give its role in 'channels'`,
      "note",
    ));
  } else if (!hasMonitor && open.length > 1) {
    warnings.push(warn(
      "role-unknown",
      `No channel name says which carries the monitor signal: ${
        open.slice(0, 20).map(({ name }) => `'${name.slice(0, 60)}'`).join(", ")
      }. Give roles in 'channels', such as { "${
        open[0]!.name
      }": "monitor signal" }`,
      "note",
    ));
  }
  return {
    plans: channels.map((channel) => ({
      ...channel,
      role: channel.role ?? "other",
    })),
    warnings,
  };
}

/** Units that a channel of a role can be in; `"1"` says nothing. */
const unitsOfRole: Readonly<Record<string, readonly string[]>> = {
  "drive current": ["A", "1", ""],
  "drive voltage": ["V", "1", ""],
  "monitor signal": ["V", "A", "W", "1", ""],
  "junction voltage": ["V", "1", ""],
};

/** Refuses a role that the unit in the file contradicts. */
function requireUnit(name: string, role: ChannelRole, unit: string): void {
  const fitting = unitsOfRole[role];
  if (fitting === undefined || fitting.includes(unit)) return;
  const remedy = role === "drive current" && unit === "V"
    ? `say how much current a volt stands for, as in { "${name}": { role: "drive current", currentPerVoltage: "10mA/V" } }`
    : `give another role, or the channel's 'unit' and 'scale' if the file is wrong`;
  throw new RangeError(
    `Cannot take channel '${name}' for the ${role} as it is in ${unit} and not in ${
      fitting[0]
    }: ${remedy}`,
  );
}

/** What turns a drive recorded in V into a current; `null` where not stated. */
function readPerVoltage(
  settings: ChannelOptions,
  name: string,
  unit: string,
): { factor: number; offset: number } | null {
  const task = "read a capture";
  const { currentPerVoltage, currentOffset } = benchOptions;
  const factor = settings.currentPerVoltage === undefined
    ? null
    : currentPerVoltage.read(
      settings.currentPerVoltage,
      `channels.${name}.currentPerVoltage`,
      task,
    );
  if (factor === null) return null;
  if (unit !== "V" && unit !== "1" && unit !== "") {
    throw new RangeError(
      `Cannot turn channel '${name}' into a current with 'currentPerVoltage' as it is in ${unit} and not in V: leave it out, or give the channel's 'unit'`,
    );
  }
  const offset = settings.currentOffset === undefined ? 0 : currentOffset.read(
    settings.currentOffset,
    `channels.${name}.currentOffset`,
    task,
  );
  return { factor, offset };
}

/** Puts scaled samples to their plan. */
export function withSamples(
  plans: readonly ChannelPlan[],
  columns: readonly Samples[],
): ChannelInput[] {
  return plans.map(({ name, role, unit, scale, fullScale }, index) => ({
    name,
    role,
    unit,
    scale,
    fullScale,
    samples: columns[index]!,
  }));
}
