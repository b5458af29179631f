/**
 * What types say of cells: notes under an error, names after a dot. The check
 * runs in a process of its own, and nothing waits long for it.
 *
 * @module
 */
export { TypeDesk } from "./type_desk.ts";
export { type FailedCell, type TypeNote, TypeService } from "./type_service.ts";
export type { ModulePlace } from "./module_host.ts";
