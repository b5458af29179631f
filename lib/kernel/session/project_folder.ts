import { fromFileUrl } from "@std/path";

/** Folder of the project that this file belongs to. */
export const projectFolder: string = fromFileUrl(
  new URL("../../../", import.meta.url),
).replace(/(?<=.)[\\/]$/, "");
