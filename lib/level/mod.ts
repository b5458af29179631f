/**
 * The level of the monitor current: whether something is there, and how far away
 * it stands, without a fringe.
 *
 * @module
 */
export {
  calibratePresence,
  type CalibratePresenceOptions,
  type PresenceCalibration,
} from "./calibrate_presence.ts";
export {
  findPresence,
  type Presence,
  type PresenceStay,
} from "./find_presence.ts";
export {
  createPresenceTracker,
  type PresenceDecision,
  type PresenceTracker,
  type PresenceTrackerOptions,
} from "./presence_tracker.ts";
export {
  calibrateLevel,
  type CalibrateLevelOptions,
  type LevelCalibration,
  type LevelPoint,
} from "./calibrate_level.ts";
export type { CurvePoint, DrawnBranch, LevelBranch } from "./branches.ts";
export {
  type LevelMeasurement,
  measureLevel,
  type MeasureLevelOptions,
} from "./measure_level.ts";
export type { LevelDistance } from "./distance_at_level.ts";
export { levelsOfSweep, type LevelsOfSweepOptions } from "./sweep_levels.ts";
