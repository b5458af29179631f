import { NotMeasurableError } from "../errors/mod.ts";
import { requireCapture, requireText } from "../options/mod.ts";
import type { Capture, Channel, ChannelRole } from "./capture.ts";

/** The signal that each junction voltage stands for. */
const turnedOver = new WeakMap<Channel, Channel>();

/**
 * The junction voltage as a monitor signal: with its sign turned, as the voltage
 * falls where feedback raises the light.
 */
function asSignal(junction: Channel): Channel {
  const known = turnedOver.get(junction);
  if (known !== undefined) return known;
  const { samples, fullScale, scale } = junction;
  const made: Channel = {
    ...junction,
    role: "monitor signal",
    scale: -scale,
    samples: samples.map((value) => -value) as Channel["samples"],
    fullScale: fullScale === null
      ? null
      : { low: -fullScale.high, high: -fullScale.low },
  };
  turnedOver.set(junction, made);
  return made;
}

/**
 * Finds the first channel with a role. Where there is no monitor signal and there
 * is a junction voltage, that stands in for it with its sign turned: it falls
 * where the light grows.
 *
 * @param capture The capture.
 * @param role What the channel carries.
 * @returns The channel, or `null` if there is none.
 *
 * @example
 * ```ts
 * import { createCapture, findChannel } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = createCapture([{
 *   name: "A",
 *   role: "monitor signal",
 *   unit: "V",
 *   samples: Float64Array.of(1, 2),
 * }], { samplingRate: 10 });
 * expect(findChannel(capture, "monitor signal")?.name).toBe("A");
 * expect(findChannel(capture, "drive current")).toBe(null);
 * ```
 */
export function findChannel(
  capture: Capture,
  role: ChannelRole,
): Channel | null {
  const task = "find a channel";
  requireCapture(capture, task);
  requireText(role, "role", task);
  const found = capture.channels.find((channel) => channel.role === role);
  if (found !== undefined || role !== "monitor signal") return found ?? null;
  const junction = capture.channels.find(({ role }) =>
    role === "junction voltage"
  );
  return junction === undefined ? null : asSignal(junction);
}

/**
 * Finds the first channel with a role, and insists on it.
 *
 * @param capture The capture.
 * @param role What the channel carries.
 * @returns The channel.
 * @throws {NotMeasurableError} If there is no such channel; the message lists
 * the channels that there are.
 *
 * @example
 * ```ts
 * import { createCapture, requireChannel } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = createCapture([{
 *   name: "A",
 *   role: "other",
 *   unit: "V",
 *   samples: Float64Array.of(1, 2),
 * }], { samplingRate: 10 });
 * expect(() => requireChannel(capture, "drive current")).toThrow("'A' (other)");
 * ```
 */
export function requireChannel(capture: Capture, role: ChannelRole): Channel {
  const task = "find a channel";
  requireCapture(capture, task);
  requireText(role, "role", task);
  const channel = findChannel(capture, role);
  if (channel !== null) return channel;
  const present = capture.channels
    .map(({ name, role }) => `'${name}' (${role})`)
    .join(", ");
  throw new NotMeasurableError(
    `no ${role}`,
    `Cannot find a ${role} channel: the capture has ${present}. Give the channel's role when reading the file`,
  );
}
