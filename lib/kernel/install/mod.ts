/**
 * Makes the kernel known to Jupyter: kernelspec, places, icons.
 *
 * @module
 */
export { stableDenoPath } from "./deno_path.ts";
export { fetchDependencies } from "./fetch_dependencies.ts";
export {
  ICON_FILES,
  installKernelspec,
  kernelspecFolder,
  uninstallKernelspec,
} from "./install.ts";
export {
  jupyterPath,
  type PathContext,
  projectFolder,
  type ReadEnvironment,
  systemDataFolders,
  userDataFolder,
} from "./jupyter_paths.ts";
export {
  createKernelspec,
  type Kernelspec,
  type KernelspecOptions,
} from "./kernelspec.ts";
export { pythonPrefix } from "./sys_prefix.ts";
