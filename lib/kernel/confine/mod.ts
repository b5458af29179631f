/**
 * Confinement of a process by the system itself: on Linux by Landlock and a
 * filter of system calls, set before the program starts, so that nothing in it
 * can take them back.
 *
 * @module
 */
export { confinedCommand, type Confinement } from "./confined_command.ts";
export { type ConfinementLevel, describeLevel, levelOf } from "./level.ts";
export { type ProcessLimits } from "./limits.ts";
export { type Reach } from "./rules.ts";
export { type SystemMeans, systemMeans } from "./system.ts";
export { isInside } from "./inside.ts";
export {
  type OutwardLink,
  outwardLinks,
  type OutwardLinksOptions,
} from "./links.ts";
