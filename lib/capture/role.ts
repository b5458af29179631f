import type { ChannelRole } from "./capture.ts";

const monitorName =
  /monitor|photo ?diode|photodetector|detector|interfer|fringe|self.?mix|\bsmi\b|\bpd\b|\bmpd\b|signal/i;
const driveName =
  /drive|\bramp\b|modulation|injection|laser|\bld\b|diode current|\bbias\b|function generator/i;

/**
 * Recognises what a channel carries from its name and unit. Names of the trade
 * decide first (`monitor`, `photodiode`, `drive`, `ramp`, …); without one, a
 * current is taken for the drive current.
 *
 * @param name Name of the channel.
 * @param unit SI unit of the channel, without prefix.
 * @returns The role, or `null` if neither name nor unit tells.
 *
 * @example
 * ```ts
 * import { recogniseRole } from "fringebook";
 * import { expect } from "vitest";
 *
 * expect(recogniseRole("photodiode", "V")).toBe("monitor signal");
 * expect(recogniseRole("laser current", "A")).toBe("drive current");
 * expect(recogniseRole("CH1", "V")).toBe(null);
 * ```
 */
export function recogniseRole(name: string, unit: string): ChannelRole | null {
  const text = name.replaceAll("_", " ");
  if (monitorName.test(text)) return "monitor signal";
  if (driveName.test(text)) {
    if (unit === "A") return "drive current";
    if (unit === "V") return "drive voltage";
    return /current/i.test(text)
      ? "drive current"
      : /voltage/i.test(text)
      ? "drive voltage"
      : "other";
  }
  if (unit === "A") return "drive current";
  return null;
}
