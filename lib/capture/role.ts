import { requireText } from "../options/mod.ts";
import type { ChannelRole } from "./capture.ts";

const neither =
  /trigger|\bsync|clock|\bgate\b|temperature|position|displacement|reference/i;
const junctionName =
  /junction|terminal voltage|forward voltage|diode voltage fringes/i;
const driveMonitor =
  /(current|drive|ramp|modulation|bias|injection) monitor|monitor (of|for) (the )?(drive|laser current|ramp)/i;
const monitorName =
  /monitor|photo ?diode|photo ?current|photodetector|detector|interfer|fringe|self.?mix|\bsmi\b|\bpd\b|\bmpd\b|signal/i;
const driveName =
  /drive|\bramp\b|modulation|injection|laser|\bld\b|diode current|\bbias\b|function generator/i;

/**
 * Recognises what a channel carries from its name: the words of the trade
 * (`monitor`, `photodiode`, `drive`, `ramp`, `trigger`, …); the unit tells drive
 * current from drive voltage.
 *
 * @param name Name of the channel.
 * @param unit SI unit of the channel, without prefix.
 * @returns The role, or `null` if the name does not tell.
 *
 * @example
 * ```ts
 * import { recogniseRole } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * expect(recogniseRole("photodiode", "V")).toBe("monitor signal");
 * expect(recogniseRole("laser current", "A")).toBe("drive current");
 * expect(recogniseRole("CH1", "V")).toBe(null);
 * ```
 */
export function recogniseRole(name: string, unit: string): ChannelRole | null {
  const task = "recognise a role";
  requireText(name, "name", task);
  requireText(unit, "unit", task);
  const text = name.slice(0, 1000).replaceAll("_", " ");
  if (neither.test(text)) return "other";
  if (unit !== "A" && junctionName.test(text)) return "junction voltage";
  const isDrive = driveMonitor.test(text) ||
    (driveName.test(text) && !monitorName.test(text));
  if (isDrive) {
    if (unit === "A") return "drive current";
    if (unit === "V") return "drive voltage";
    return /voltage/i.test(text)
      ? "drive voltage"
      : /current/i.test(text)
      ? "drive current"
      : "other";
  }
  return monitorName.test(text) ? "monitor signal" : null;
}
