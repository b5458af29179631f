/**
 * Motion of the target: fringes with sign and time, displacement, vibration and
 * ring-down.
 *
 * @module
 */
export {
  countFringes,
  type CountFringesOptions,
  type FringeCount,
} from "./count_fringes.ts";
