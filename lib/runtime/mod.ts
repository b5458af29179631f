/**
 * Parts of the runtime that are loaded when they are first used. Knows nothing of
 * what they are used for.
 *
 * @module
 */
export {
  cryptoModule,
  fileSystemModule,
  sha256Later,
  sha256Of,
  sha512Of,
  v8Module,
  vmModule,
  zlibModule,
} from "./builtin.ts";
export { readTextUpTo, regularFileSize } from "./regular_file.ts";
export { stateFolder } from "./state_folder.ts";
export { danfojsFromCache, fetchLater } from "./danfojs_script.ts";
export {
  hasPackageFetcher,
  importFetched,
  type PackageFetcher,
  setPackageFetcher,
} from "./import_later.ts";
