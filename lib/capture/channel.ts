import { NotMeasurableError } from "../errors/mod.ts";
import { requireCapture, requireText } from "../options/mod.ts";
import type { Capture, Channel, ChannelRole } from "./capture.ts";

/**
 * Finds the first channel with a role.
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
  return capture.channels.find((channel) => channel.role === role) ?? null;
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
