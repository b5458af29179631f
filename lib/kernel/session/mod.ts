/**
 * A session: cells run in a process of their own with few permissions, apart
 * from the protocol, and can be interrupted, restarted and lost without harm.
 *
 * @module
 */
export { createDrawingDesk } from "./drawing.ts";
export type { DrawingDesk, PictureParts } from "./drawing_desk.ts";
export { SessionInterpreter } from "./session_interpreter.ts";
export { defaultMemoryLimit, type SessionOptions } from "./session_options.ts";
export {
  grantFileName,
  type GrantKind,
  type Grants,
  mergeGrants,
  readGrants,
} from "./grants.ts";
export { type DefaultReach, defaultReach } from "./reach.ts";
export { projectFolder } from "./project_folder.ts";
export { progressKey } from "./work_progress.ts";
export { sessionEnvironment } from "./command.ts";
