import type { ChannelInput, ChannelRole, Samples } from "./capture.ts";
import type { OpenedChannel } from "./file/opened_file.ts";
import type { ChannelOptions } from "./options.ts";
import { recogniseRole } from "./role.ts";
import { warn, type Warning } from "../result/mod.ts";

/** One channel as a reader found it. */
export interface RawChannel extends OpenedChannel {
  /** Numbers of the file; scaled in place. */
  readonly samples: Samples;
}

/** Scales channels and gives them their roles; says what it assumed. */
export function makeChannels(
  raw: readonly RawChannel[],
  options: Readonly<Record<string, ChannelOptions | ChannelRole>>,
): { channels: ChannelInput[]; warnings: Warning[] } {
  const warnings: Warning[] = [];
  const given = new Map(Object.entries(options));
  const used = new Set<string>();
  const channels = raw.map((channel, index) => {
    const key = given.has(channel.name) ? channel.name : String(index);
    const option = given.get(key);
    if (option !== undefined) used.add(key);
    const settings: ChannelOptions = typeof option === "string"
      ? { role: option }
      : option ?? {};
    const name = settings.name ?? channel.name;
    const unit = settings.unit ?? channel.unit;
    const scale = settings.scale ?? channel.scale;
    const { zero = 0, samples } = channel;
    if (zero !== 0) {
      for (let i = 0; i < samples.length; i++) samples[i] = samples[i]! - zero;
    }
    scaleInPlace(samples, scale);
    const role = settings.role ?? channel.role ?? recogniseRole(name, unit);
    const fullScale = settings.fullScale !== undefined
      ? settings.fullScale
      : channel.fullScale === null
      ? null
      : {
        low: (channel.fullScale.low - zero) * scale,
        high: (channel.fullScale.high - zero) * scale,
      };
    return {
      name,
      unit,
      scale: settings.scale ?? channel.recordedScale ?? scale,
      samples,
      fullScale,
      role,
    };
  });
  for (const key of given.keys()) {
    if (!used.has(key)) {
      throw new RangeError(
        `Cannot apply the options of channel '${key}' as there is no such channel: the file has ${
          raw.map(({ name }, index) => `${index}: '${name}'`).join(", ")
        }`,
      );
    }
  }
  const open = channels.filter(({ role }) => role === null);
  const hasMonitor = channels.some(({ role }) => role === "monitor signal");
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
        open.map(({ name }) => `'${name}'`).join(", ")
      }. Give roles in 'channels', such as { "${
        open[0]!.name
      }": "monitor signal" }`,
      "note",
    ));
  }
  return {
    channels: channels.map((channel) => ({
      ...channel,
      role: channel.role ?? "other",
    })),
    warnings,
  };
}

/** Multiplies, or divides by the inverse where that is the exact number. */
export function scaleInPlace(samples: Samples, scale: number): void {
  if (scale === 1) return;
  const inverse = Math.round(1 / scale);
  if (scale < 1 && scale > 0 && 1 / inverse === scale) {
    for (let i = 0; i < samples.length; i++) samples[i] = samples[i]! / inverse;
  } else {
    for (let i = 0; i < samples.length; i++) samples[i] = samples[i]! * scale;
  }
}
