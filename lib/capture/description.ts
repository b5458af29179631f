import { type Capture, type ChannelRole, channelRoles } from "./capture.ts";
import type { OpenedChannel } from "./file/opened_file.ts";

/**
 * What our writers put beside the samples so that nothing is lost: JSON text in
 * a header line (text), a comment (WAV), an array (NPZ) or the extension
 * namespace (SigMF).
 */
export interface CaptureDescription {
  /** In Hz. */
  readonly samplingRate: number;
  readonly startTime: string | null;
  readonly channels: readonly {
    readonly name: string;
    readonly role: ChannelRole;
    readonly unit: string;
    readonly scale: number;
    readonly fullScale: { readonly low: number; readonly high: number } | null;
  }[];
  readonly metadata: Readonly<Record<string, string>>;
}

/** Begins the text form, so that it is told from other comments. */
export const descriptionMark = "fringebook capture 1 ";

/** Describes a capture without its samples. */
export function describeCapture(capture: Capture): CaptureDescription {
  return {
    samplingRate: capture.samplingRate,
    startTime: capture.startTime,
    channels: capture.channels.map((
      { name, role, unit, scale, fullScale },
    ) => ({ name, role, unit, scale, fullScale })),
    metadata: { ...capture.metadata },
  };
}

/** The text form: one line of JSON after the mark. */
export function formatDescription(capture: Capture): string {
  return descriptionMark + JSON.stringify(describeCapture(capture));
}

const roles: readonly string[] = channelRoles;

const isNumber = (value: unknown): value is number =>
  typeof value === "number" && Number.isFinite(value);
const isText = (value: unknown): value is string =>
  typeof value === "string" && value.length <= 10_000;
const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === "object" && value !== null && !Array.isArray(value);

/** Reads the text form; `null` if it is not one or not valid. */
export function parseDescription(text: string): CaptureDescription | null {
  if (!text.startsWith(descriptionMark)) return null;
  try {
    return validDescription(JSON.parse(text.slice(descriptionMark.length)));
  } catch {
    return null;
  }
}

/** Checks an untrusted description field by field; `null` if not valid. */
export function validDescription(value: unknown): CaptureDescription | null {
  if (!isObject(value)) return null;
  const { samplingRate, startTime, channels, metadata } = value;
  if (!isNumber(samplingRate) || !(samplingRate > 0)) return null;
  if (startTime !== null && !isText(startTime)) return null;
  if (!Array.isArray(channels) || channels.length > 65536) return null;
  const valid: CaptureDescription["channels"][number][] = [];
  for (const channel of channels) {
    if (!isObject(channel)) return null;
    const { name, role, unit, scale, fullScale } = channel;
    if (!isText(name) || !isText(unit)) return null;
    if (!isText(role) || !roles.includes(role)) return null;
    if (!isNumber(scale) || scale === 0) return null;
    let limits: { low: number; high: number } | null = null;
    if (fullScale !== null) {
      if (!isObject(fullScale)) return null;
      const { low, high } = fullScale;
      if (!isNumber(low) || !isNumber(high)) return null;
      limits = { low, high };
    }
    valid.push({
      name,
      role: role as ChannelRole,
      unit,
      scale,
      fullScale: limits,
    });
  }
  if (!isObject(metadata)) return null;
  const entries = Object.entries(metadata);
  if (entries.length > 10_000) return null;
  if (!entries.every(([, item]) => isText(item))) return null;
  return {
    samplingRate,
    startTime,
    channels: valid,
    metadata: Object.fromEntries(entries) as Record<string, string>,
  };
}

/**
 * Channels of a described file. The samples our writers store are already in
 * the unit, so nothing is scaled again; `scale` is kept for the record only.
 */
export function describedChannels(
  description: CaptureDescription,
): OpenedChannel[] {
  return description.channels.map((
    { name, role, unit, scale, fullScale },
  ) => ({
    name,
    role,
    unit,
    scale: 1,
    fullScale: fullScale === null ? null : { ...fullScale },
    recordedScale: scale,
  }));
}
